"""Fan belts that go from engine to engine: the hours they have go with them."""

from dataclasses import replace
from datetime import timedelta

from telling import parts
from telling.requests import identifier

FAN_BELT = "fan-belt", "fan"


def lend(engine, day, to_mark):
    """Takes the belt off for another engine and fits a new one."""
    belt = engine.parts[FAN_BELT]
    engine.lent = belt, belt.hours_of(engine.hours, engine.flown)
    parts.renew(engine, belt, day, f"lent to {to_mark}")


def borrow(engine, day, lender):
    """Fits the belt that another engine lent; told a day late."""
    parts.take_off(engine, engine.parts[FAN_BELT], day, "cracked")
    belt, belt_hours = lender.lent
    fitting = identifier("belt-moved", engine.serial, day=day)
    parts.put_on(engine, *FAN_BELT, day + timedelta(1), day, belt.id, fitting)
    engine.parts[FAN_BELT] = replace(belt, number=0, fitted=day, hours_before=engine.hours - belt_hours)
