"""Whether an item is for an engine: by how it is built and used, by a serial number, by the lot of a part."""

from telling import parts
from telling.programme import UNKNOWN

DESCRIBED = ("ignition", "use", "fuel", "oil", "lubrication", "regime")


def applies(item, engine, part=None):
    """`True`, `False`, or `UNKNOWN` where the records do not say. One clear no is enough."""
    rule = item.applies_to
    answers = [by_words(rule, engine), by_serial(rule, engine, part), by_lot(rule, part)]
    if False in answers:
        return False
    return UNKNOWN if UNKNOWN in answers else True


def by_words(rule, engine):
    """By what was told of the engine: every word asked about has to be one of those told."""
    answers = [True]
    for asked in DESCRIBED:
        if asked in rule:
            told = engine.described.get(asked)
            answers.append(UNKNOWN if told is None else not set(rule[asked]).isdisjoint(told))
    return False if False in answers else UNKNOWN if UNKNOWN in answers else True


def by_serial(rule, engine, part):
    """By the serial number of the part, of another part on the engine, or of the engine itself."""
    if "serials" not in rule:
        return True
    marked = next(iter(parts.of_kind(engine, rule["part"])), None) if "part" in rule else part or engine
    if marked is None or marked.serial is None:
        return UNKNOWN
    return any(in_range(marked.serial, written) for written in rule["serials"])


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


def by_lot(rule, part):
    """By the lot of the part."""
    if "lots" not in rule:
        return True
    return UNKNOWN if part.lot is None else part.lot in rule["lots"]
