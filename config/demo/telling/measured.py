"""What is measured at the season's visits: the clearance of the pistons, which wear evenly, read to a thousandth."""

from decimal import Decimal

QUANTITY, UNIT, ITEM = "piston-clearance", "mm", "pistons-and-rings"
# By how many thousandths a reading is off, in turn: nobody's hand is quite steady, and each piston has a life of its own.
OFF = {"mag": [0, 1, -1, 2, 0, -2], "pto": [3, 2, 4, 3, 5, 3]}


def measurements(engine):
    """What a visit measures before it does anything; nothing on engines that the scenario says nothing of."""
    if not (rule := engine.row.get("piston-clearance")):
        return []
    run = engine.hours - renewed_at(engine.record)
    worn = Decimal(rule["new"]) + Decimal(rule["per-100-hours"]) * run / 1000
    return [measurement(position, worn, off[engine.visits % len(off)]) for position, off in OFF.items()]


def measurement(position, worn, off):
    """One reading."""
    value = (worn + Decimal(off) / 1000).quantize(Decimal("0.001"))
    return {"quantity": QUANTITY, "position": position, "value": str(value), "unit": UNIT}


def renewed_at(record):
    """The engine's hours when its pistons were last renewed, by themselves or at an overhaul."""
    renewals = [done.hours for done in record.done.get(ITEM, []) if done.action == "renewed"]
    return max([*renewals, record.overhauled.hours if record.overhauled else 0])
