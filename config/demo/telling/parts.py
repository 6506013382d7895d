"""Crankshafts and gearboxes: parts with serial numbers and hours of their own, other than the belt."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from telling.days import hours
from telling.requests import identifier

PLACES = {"crankshaft": "crankcase", "gearbox": "gearbox"}


@dataclass
class Part:
    """A part on an engine."""

    id: str
    # How many of its kind were on this engine before it.
    number: int
    serial: str | None
    fitted: date
    # The engine's hours when the part had none.
    hours_before: int | None

    def moved_on(self, days):
        """The same part so many days later."""
        return replace(self, fitted=self.fitted + timedelta(days))


def fit_first(engine):
    """The parts that the engine came with, as old as the engine itself where a log says so."""
    part_hours = engine.hours if engine.record.logged else None
    fit(engine, "crankshaft", engine.registered, 0, part_hours)
    if "gearbox" in engine.row:
        fit(engine, "gearbox", engine.registered, 0, part_hours)


def renew(engine, kind, day):
    """Takes a part off and fits a new one."""
    part = engine.parts[kind]
    removal = identifier(f"{kind}-out", engine.serial, part.number, day=day)
    body = {"on": str(day), "reason": "renewed at overhaul", "order_in_day": 1}
    engine.requests.put(day, engine.shop.id, f"/v1/components/{part.id}/removals/{removal}", body)
    fit(engine, kind, day, part.number + 1, 0)


def fit(engine, kind, day, number, part_hours):
    """Registers a part and fits it."""
    part_id, serial = identifier(kind, engine.serial, number, day=day), serial_of(engine, kind, number)
    body = {"on": str(day), "kind": kind, "hours": None if part_hours is None else hours(part_hours)}
    if serial:
        body["serial"] = serial
    if part_hours:
        body["first_fitted_on"] = str(engine.record.made)
    engine.requests.put(day, engine.shop.id, f"/v1/components/{part_id}", body)
    fitting = identifier(f"{kind}-in", engine.serial, number, day=day)
    body = {"on": str(day), "engine": engine.id, "position": PLACES[kind], "order_in_day": 2}
    engine.requests.put(day, engine.shop.id, f"/v1/components/{part_id}/fittings/{fitting}", body)
    hours_before = None if part_hours is None else engine.hours - part_hours
    engine.parts[kind] = Part(part_id, number, serial, day, hours_before)


def serial_of(engine, kind, number):
    """A part's serial number: as the scenario has it; a first crankshaft's that no log tells was never read."""
    if kind == "gearbox":
        return engine.row["gearbox"]
    named = engine.row.get("crankshafts", [])
    if number < len(named):
        return named[number]
    untold = number == 0 and not engine.record.logged
    return None if untold else f"CR-{1000 + engine.number * 7 + number * 200}"
