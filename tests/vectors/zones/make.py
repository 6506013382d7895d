"""When weekly reports leave, by another implementation: zoneinfo of Python over the PyPI package tzdata 2025.2, which
is the IANA database 2025b. Writes a line for each zone: its name, and the FNV-1a hash (64 bits) of the instants, in
seconds since the Unix epoch and each with a line feed, of all weeks from 2024-W01 to 2034-W52 at four local times.

    PYTHONTZPATH= python3 make.py > leaves.tsv      (with the package tzdata on PYTHONPATH)
"""

import datetime as d
import zoneinfo

# ISO weekday, hour, minute: the default, two that clocks skip and repeat, and the last minute of a week.
TIMES = [(1, 7, 0), (7, 2, 30), (7, 0, 15), (7, 23, 59)]


def instant(local, zone):
    """The first time that clocks show it, or the instant at which they go on that skip it."""
    at = local.replace(tzinfo=zone)
    utc = at.astimezone(d.timezone.utc)
    if utc.astimezone(zone).replace(tzinfo=None) == local:
        return int(utc.timestamp())
    late = int(utc.timestamp())
    early = int(local.replace(tzinfo=zone, fold=1).astimezone(d.timezone.utc).timestamp()) - 1
    while late - early > 1:
        middle = (early + late) // 2
        shown = d.datetime.fromtimestamp(middle, zone).replace(tzinfo=None)
        early, late = (early, middle) if shown > local else (middle, late)
    return late


def fnv(text):
    value = 0xCBF29CE484222325
    for byte in text.encode():
        value = (value ^ byte) * 0x100000001B3 % 2**64
    return value


def main():
    days = []
    monday = d.date.fromisocalendar(2024, 1, 1)
    while monday <= d.date.fromisocalendar(2034, 52, 1):
        days.append(monday)
        monday += d.timedelta(7)
    for name in sorted(zoneinfo.available_timezones()):
        zone, lines = zoneinfo.ZoneInfo(name), []
        for monday in days:
            for weekday, hour, minute in TIMES:
                local = d.datetime.combine(monday + d.timedelta(weekday - 1), d.time(hour, minute))
                lines.append(f"{instant(local, zone)}\n")
        print(f"{name}\t{fnv(''.join(lines)):016x}")


main()
