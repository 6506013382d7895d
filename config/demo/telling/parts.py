"""Parts with hours or an age of their own: assemblies with serial numbers, and rubber with a code and a lot."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from telling.count import Count
from telling.days import add_months, hours, in_tenths, quarter_code, quarter_end, quarter_start
from telling.programme import UNKNOWN
from telling.record import Done
from telling.requests import identifier

# Where a kind sits; a propeller is on the aircraft.
PLACES = {
    "fan-belt": ["fan"],
    "crankshaft": ["crankcase"],
    "gearbox": ["gearbox"],
    "output-shaft": ["gearbox"],
    "carburettor": ["carburettor-1", "carburettor-2"],
    "coolant-hose": ["hose-top", "hose-bottom"],
    "water-pump-seal": ["cooling"],
    "oil-hose": ["oil"],
    "alternator-belt": [None],
    "propeller": [None],
}
ON_AIRCRAFT = {"propeller"}
# On record only where the scenario has the serial number: nobody has read that of the others.
IF_NAMED = {"gearbox"}
# The letters of the lots that the parts of one quarter make; all other kinds have serial numbers.
LOTS = {"fan-belt": "FB", "alternator-belt": "AB", "coolant-hose": "CH", "oil-hose": "OH", "water-pump-seal": "WS"}
# The letters of serial numbers, and where they begin.
SERIALS = {
    "crankshaft": ("CR", 1000),
    "gearbox": ("GB", 2000),
    "carburettor": ("CB", 4000),
    "output-shaft": ("OS", 500),
    "propeller": ("PR", 800),
}
# When nobody knows when a part was made, its code still says a quarter: this one.
UNLOGGED_MADE = date(2019, 5, 1)
LOST = "lost"


@dataclass
class Part:
    """A part on an engine, or on its aircraft."""

    id: str
    kind: str
    place: str | None
    # The engine's how-manieth of its kind there, from 0.
    number: int
    serial: str | None
    lot: str | None
    # The first day that its code can mean.
    made: date | None
    first_fitted: date
    # The day it came onto this engine: work done before was not done to it.
    fitted: date
    # What the engine, or for a part on the aircraft the aircraft, had run when the part had none.
    hours_before: int | None
    # Its last overhaul as an assembly, in the part's own hours, and whether that is told by its papers alone.
    overhauled: Done | None = None
    papers: bool = False

    def moved_on(self, days):
        """The same part so many days later, its code the later one; its lot is only a name."""
        later = timedelta(days)
        made = self.made and quarter_start(quarter_code(self.made + later))
        overhauled = self.overhauled and replace(self.overhauled, on=self.overhauled.on + later)
        first_fitted, fitted = self.first_fitted + later, self.fitted + later
        return replace(self, made=made, first_fitted=first_fitted, fitted=fitted, overhauled=overhauled)

    def hours_of(self, engine_hours, flown):
        """The part's own hours when the engine had so many, and the aircraft."""
        if self.hours_before is None or engine_hours == UNKNOWN:
            return UNKNOWN
        return (flown if self.kind in ON_AIRCRAFT else engine_hours) - self.hours_before

    def count(self, engine, record):
        """What the part's items are counted on."""

        def done(item, limit):
            work = [once for once in record.done.get(item.id, []) if once.on > self.fitted]
            # A life ends with the part: only what is done to the part itself begins it again.
            life = limit is not None and limit.counts_from not in ("done", "effective")
            work = [once for once in work if not life or once.action != "renewed"]
            return [replace(once, hours=self.hours_of(once.hours, once.flown)) for once in work]

        return Count(lambda limit: self.start(limit, record), done, self.hours_of(engine.hours, engine.flown))

    def start(self, limit, record):
        """Where a limit's count begins, and the day after which work counts."""
        zero, since = UNKNOWN if self.hours_before is None else 0, date.min
        if limit.counts_from == "done":
            return UNKNOWN, UNKNOWN, since
        if limit.counts_from == "first-fitted":
            return zero, self.first_fitted, since
        if limit.counts_from == "overhaul" and self.overhauled:
            return self.overhauled.hours, self.overhauled.on, since if self.papers else self.overhauled.on
        if limit.counts_from == "effective" and not (self.made and self.made > limit.effective):
            return self.hours_of(record.hours_at(limit.effective), UNKNOWN), limit.effective, limit.effective
        if self.made is None or limit.counts_from == "overhaul" and zero == UNKNOWN:
            return zero, UNKNOWN, since
        return zero, quarter_end(self.made) if limit.code_day == "last" else self.made, since


def unregistered(engine, item, record):
    """What an item is counted on whose part is on record only by its last renewal, or not at all."""
    renewed = [once for once in record.done.get(item.id, []) if once.action == "renewed" and once.on > record.restarted]
    if not renewed:
        return Count(lambda limit: (UNKNOWN, UNKNOWN, date.min), lambda item, limit: [], UNKNOWN)
    last = renewed[-1]

    def start(limit):
        fitted = limit.counts_from in ("fitted", "first-fitted")
        return (0, last.on, last.on) if fitted else (UNKNOWN, UNKNOWN, last.on)

    return Count(start, lambda item, limit: [], engine.hours - last.hours)


def of_kind(engine, kind, place=None):
    """The parts of a kind on an engine, at one place or at all."""
    parts = engine.parts.values()
    return [part for part in parts if part.kind == kind and place in (None, part.place)]


def fit_first(engine):
    """The parts that the engine came with, as old as the engine itself where a log says so."""
    for kind, places in PLACES.items():
        if kind not in engine.programme.kinds or kind in IF_NAMED and kind not in engine.row:
            continue
        for place in places:
            told = engine.row.get("came-with", {}).get(kind)
            if told:
                fit_told(engine, kind, place, engine.registered, 0, told)
            else:
                fit_as_old(engine, kind, place)


def fit_as_old(engine, kind, place):
    """A part that came with the engine and is as old."""
    logged, made = engine.record.logged, engine.record.made or UNLOGGED_MADE
    code = engine.row.get("belt-code", quarter_code(made)) if kind == "fan-belt" else quarter_code(made)
    part_hours = engine.hours if logged else None
    first_fitted = made if part_hours else None
    fit(engine, kind, place, engine.registered, 0, code=code, part_hours=part_hours, first_fitted=first_fitted)


def fit_new(engine, kind, place, day, number):
    """Fits a part made seven months before."""
    fit(engine, kind, place, day, number, code=quarter_code(add_months(day, -7)), part_hours=0)


def fit_told(engine, kind, place, day, number, told):
    """Fits a unit that ran elsewhere: with papers of its hours and its overhaul, or with nothing."""
    part_hours, papers = told.get("hours"), None
    if overhauled := told.get("overhauled"):
        papers = {"on": str(overhauled["on"]), "hours_since": overhauled["hours-since"]}
    fit(
        engine, kind, place, day, number,
        code=None,
        part_hours=in_tenths(part_hours) if part_hours else None,
        first_fitted=told.get("first-fitted"),
        papers=papers,
        serial=told.get("serial"),
    )  # fmt: skip


def fit(engine, kind, place, day, number, *, code, part_hours, first_fitted=None, papers=None, serial=None):
    """Registers a part and fits it."""
    part_id = identifier(kind, engine.serial, place, number, day=day)
    lot, serial = None, serial or serial_of(engine, kind, place, number)
    body = {"on": str(day), "kind": kind, "hours": None if part_hours is None else hours(part_hours)}
    if code not in (None, LOST):
        body["code"] = {"scheme": "quarter", "text": code}
        if kind in LOTS:
            lot = body["lot"] = f"{LOTS[kind]}-{code}"
    if serial:
        body["serial"] = serial
    if first_fitted:
        body["first_fitted_on"] = str(first_fitted)
    overhauled = None
    if papers:
        body["overhauled"] = papers
        overhauled = Done(date.fromisoformat(papers["on"]), part_hours - in_tenths(papers["hours_since"]), "overhauled")
    engine.requests.put(day, engine.shop.id, f"/v1/components/{part_id}", body)
    put_on(engine, kind, place, day, day, part_id, identifier(f"{kind}-in", engine.serial, place, number, day=day))
    run = engine.flown if kind in ON_AIRCRAFT else engine.hours
    engine.parts[kind, place] = Part(
        part_id, kind, place, number, serial, lot,
        made=quarter_start(code) if "code" in body else None,
        first_fitted=first_fitted or day,
        fitted=day,
        hours_before=None if part_hours is None else run - part_hours,
        overhauled=overhauled,
        papers=papers is not None,
    )  # fmt: skip


def put_on(engine, kind, place, arrives, day, part_id, fitting):
    """Says that a part was fitted to the engine, or to its aircraft."""
    host = {"aircraft": engine.aircraft} if kind in ON_AIRCRAFT else {"engine": engine.id}
    body = {"on": str(day)} | host | ({"position": place} if place else {}) | {"order_in_day": 2}
    engine.requests.put(arrives, engine.shop.id, f"/v1/components/{part_id}/fittings/{fitting}", body)


def take_off(engine, part, day, reason):
    """Says that a part was taken off."""
    removal = identifier(f"{part.kind}-out", engine.serial, part.place, part.number, day=day)
    body = {"on": str(day), "reason": reason, "order_in_day": 1}
    engine.requests.put(day, engine.shop.id, f"/v1/components/{part.id}/removals/{removal}", body)


def renew(engine, part, day, reason):
    """Takes a part off and fits a new one."""
    take_off(engine, part, day, reason)
    fit_new(engine, part.kind, part.place, day, part.number + 1)


def exchange(engine, part, day, told):
    """Takes a part off and fits a unit that ran elsewhere."""
    take_off(engine, part, day, "exchanged")
    fit_told(engine, part.kind, part.place, day, part.number + 1, told)


def overhaul(engine, part, day):
    """A part overhauled as an assembly of its own: its hours since overhaul begin."""
    overhaul_id = identifier(f"{part.kind}-overhaul", engine.serial, part.place, day=day)
    body = {"on": str(day), "release": {"by": f"{engine.shop.name}, inspector 1"}}
    engine.requests.put(day, engine.shop.id, f"/v1/components/{part.id}/overhauls/{overhaul_id}", body)
    part.overhauled = Done(day, part.hours_of(engine.hours, engine.flown), "overhauled")
    part.papers = False


def serial_of(engine, kind, place, number):
    """A part's serial number: as the scenario has it; a first one's that no log tells was never read."""
    if kind == "gearbox" and number == 0:
        return engine.row["gearbox"]
    named = engine.row.get("crankshafts", []) if kind == "crankshaft" else []
    if number < len(named):
        return named[number]
    if kind in LOTS or number == 0 and not engine.record.logged:
        return None
    letters, first = SERIALS[kind]
    at = PLACES[kind].index(place)
    return f"{letters}-{first + engine.number * 7 + number * 200 + at}"

