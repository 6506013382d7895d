"""Whether an item is for an engine: by its use, by the serial number of a part, by the lot of its belt."""

from telling.programme import UNKNOWN


def applies(item, engine):
    """`True`, `False`, or `UNKNOWN` where the records do not say. One clear no is enough."""
    rule = item.applies_to
    answers = [by_use(rule, engine), by_serial(rule, engine), by_lot(rule, engine)]
    if False in answers:
        return False
    return UNKNOWN if UNKNOWN in answers else True


def by_use(rule, engine):
    """By what the aircraft is used for."""
    return "use" not in rule or not set(rule["use"]).isdisjoint(engine.row["use"])


def by_serial(rule, engine):
    """By the serial number of a part, or of the engine itself."""
    if "serials" not in rule:
        return True
    part = engine.parts.get(rule["part"]) if "part" in rule else engine
    if part is None or part.serial is None:
        return UNKNOWN
    return any(in_range(part.serial, written) for written in rule["serials"])


def in_range(serial, written):
    """Whether a serial number is in a range as it is written: CR-2000-CR-2349."""
    middle = len(written) // 2
    (prefix, first), (last_prefix, last) = split(written[:middle]), split(written[middle + 1 :])
    assert prefix == last_prefix
    own_prefix, number = split(serial)
    return own_prefix == prefix and first <= number <= last


def split(serial):
    """The letters in front of a serial number, and its number."""
    letters = serial.rstrip("0123456789")
    return letters, int(serial[len(letters) :])


def by_lot(rule, engine):
    """By the lot of the fan belt."""
    if "lots" not in rule:
        return True
    return UNKNOWN if engine.belt.lot is None else engine.belt.lot in rule["lots"]
