"""What is measured at the season's visits, the clearance of the pistons, and when its trend comes due.

The trend is a straight line of least squares through the readings since the piston ran in. It is due where the edge of
the line's uncertainty, which holds 95 times in 100, meets the limit: NIST/SEMATECH e-Handbook of Statistical Methods,
4.5.1.1 (how sure the line is; from memory) and 1.3.6.7.2 (Student's t, here with three more digits, integrated).
"""

from decimal import Decimal
from math import floor, sqrt
from statistics import linear_regression

from telling.count import Leg

QUANTITY, UNIT, ITEM = "piston-clearance", "mm", "pistons-and-rings"
# By how many thousandths a reading is off, in turn: no hand is quite steady, and each piston has a life of its own.
OFF = {"mag": [0, 1, -1, 2, 0, -2], "pto": [3, 2, 4, 3, 5, 3]}
# A piston has run in after so many hours, in tenths.
RUN_IN = 500
# Student's t that is exceeded 5 times in 100, for 1, 2, 3 ... degrees of freedom.
STUDENT_T = [6.313752, 2.919986, 2.353363, 2.131847, 2.015048, 1.943180, 1.894579, 1.859548]


def measurements(engine):
    """What a visit measures before it does anything; nothing on engines that the scenario says nothing of."""
    if not (rule := engine.row.get("piston-clearance")):
        return []
    run = engine.hours - renewed_at(engine.record)
    worn = Decimal(rule["new"]) + Decimal(rule["per-100-hours"]) * run / 1000
    found = {position: read(worn, off[engine.visits % len(off)]) for position, off in OFF.items()}
    engine.record.clearances.append((engine.hours, found))
    return [
        {"quantity": QUANTITY, "position": position, "value": str(value), "unit": UNIT}
        for position, value in found.items()
    ]


def read(worn, off):
    """A reading of something worn, to the thousandth."""
    return (worn + Decimal(off) / 1000).quantize(Decimal("0.001"))


def renewed_at(record):
    """The engine's hours when its pistons were last renewed, by themselves or at an overhaul."""
    renewals = [done.hours for done in record.done.get(ITEM, []) if done.action == "renewed"]
    return max([*renewals, record.overhauled.hours if record.overhauled else 0])


def legs(item, position, record, limit):
    """The leg of an item's trend at a place, as a list; none where the item has no trend, or there is no line yet."""
    if item.id != ITEM:
        return []
    ran_in = renewed_at(record) + RUN_IN
    points = [(hours / 10, float(found[position])) for hours, found in record.clearances if hours >= ran_in]
    if len(points) < 3:
        return []
    due = reached(points, limit)
    return [Leg(due, due)]


def reached(points, limit):
    """The hours, in tenths, at which the edge of the line through some points meets a limit: found by halving."""
    hours, values = zip(*points, strict=True)
    slope, intercept = linear_regression(hours, values)
    centre = sum(hours) / len(hours)
    squares = sum((at - centre) ** 2 for at in hours)
    left_over = sum((value - intercept - slope * at) ** 2 for at, value in points)
    freedom = len(points) - 2
    reach = STUDENT_T[freedom - 1] * sqrt(left_over / freedom)

    def edge(at):
        return intercept + slope * at + reach * sqrt(1 / len(points) + (at - centre) ** 2 / squares)

    low, high = hours[-1], hours[-1] + 1000
    assert slope > 0 and edge(low) < limit < edge(high), "the scenario has pistons that wear, and are not worn out"
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if edge(middle) < limit else (low, middle)
    return floor(low * 10)
