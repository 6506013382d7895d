"""Fan belts: parts with a date code and hours of their own, which go from engine to engine."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from telling.days import add_months, hours, quarter_code, quarter_start
from telling.requests import identifier

LOST = "lost"


@dataclass
class Belt:
    """The belt on an engine."""

    id: str
    # The engine's how-manieth of its own, from 0.
    number: int
    fitted: date
    # The lot marked on it.
    lot: str | None
    # The first day that its code can mean.
    made: date | None
    # The engine's hours when the belt had none; the engine's own hours went on without it before.
    hours_before: int | None

    def moved_on(self, days):
        """The same belt so many days later, its code the later one; its lot is only a name."""
        later = timedelta(days)
        made = self.made and quarter_start(quarter_code(self.made + later))
        return replace(self, fitted=self.fitted + later, made=made)


def fit_first(engine):
    """The belt that the engine came with: as old as the engine, where a log says so."""
    day, logged = engine.registered, engine.record.logged
    made = engine.record.made or date(2019, 5, 1)
    used_before = logged and engine.hours > 0
    code = engine.row.get("belt-code", quarter_code(made))
    belt_hours = engine.hours if logged else None
    fit(engine, day, 0, code, belt_hours, first_fitted=made if used_before else None)


def fit(engine, day, number, code, belt_hours, first_fitted=None):
    """Registers a belt and fits it."""
    belt_id = identifier("belt", engine.serial, number, day=day)
    body = {"on": str(day), "kind": "fan-belt", "hours": None if belt_hours is None else hours(belt_hours)}
    if code != LOST:
        body |= {"code": {"scheme": "quarter", "text": code}, "lot": lot_of(code)}
    if first_fitted:
        body["first_fitted_on"] = str(first_fitted)
    engine.requests.put(day, engine.shop.id, f"/v1/components/{belt_id}", body)
    fitting = identifier("belt-in", engine.serial, number, day=day)
    put_on(engine, day, day, belt_id, fitting)
    engine.belt = Belt(
        id=belt_id,
        number=number,
        fitted=first_fitted or day,
        lot=None if code == LOST else lot_of(code),
        made=None if code == LOST else quarter_start(code),
        hours_before=None if belt_hours is None else engine.hours - belt_hours,
    )


def lot_of(code):
    """The belts of one quarter are one lot."""
    return f"FB-{code}"


def put_on(engine, arrives, day, belt_id, fitting):
    """Says that a belt was fitted to the engine."""
    path = f"/v1/components/{belt_id}/fittings/{fitting}"
    body = {"on": str(day), "engine": engine.id, "position": "fan", "order_in_day": 2}
    engine.requests.put(arrives, engine.shop.id, path, body)


def take_off(engine, day, reason):
    """Says that the engine's belt was taken off."""
    removal = identifier("belt-out", engine.serial, engine.belt.number, day=day)
    path = f"/v1/components/{engine.belt.id}/removals/{removal}"
    engine.requests.put(day, engine.shop.id, path, {"on": str(day), "reason": reason, "order_in_day": 1})


def fit_new(engine, day):
    """Fits a belt made seven months before."""
    fit(engine, day, engine.belt.number + 1, quarter_code(add_months(day, -7)), 0)


def lend(engine, day, to_mark):
    """Takes the belt off for another engine and fits a new one; the hours it has go with it."""
    take_off(engine, day, f"lent to {to_mark}")
    engine.lent = engine.belt, engine.hours - engine.belt.hours_before
    fit_new(engine, day)


def borrow(engine, day, lender):
    """Fits the belt that another engine lent; told a day late."""
    take_off(engine, day, "cracked")
    belt, belt_hours = lender.lent
    put_on(engine, day + timedelta(1), day, belt.id, identifier("belt-moved", engine.serial, day=day))
    engine.belt = replace(belt, number=0, hours_before=engine.hours - belt_hours)
