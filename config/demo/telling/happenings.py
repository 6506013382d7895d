"""What the scenario has happen to an engine on days of its own."""

from datetime import date, timedelta

from telling import belts, parts, workshop
from telling.days import hours
from telling.record import Concession, Event, Record
from telling.requests import identifier


def on_day(engine, day):
    """Tells what happens on this day; true when it takes the whole day."""
    row = engine.row
    if day == row.get("moved", {}).get("on"):
        move(engine, day, engine.fleet[row["moved"]["to"]])
    for told in row.get("happened", []):
        if day == told["on"]:
            happen(engine, day, told["kind"])
    if day == row.get("taken-off"):
        take_off(engine, day)
    for told in row.get("short-visits", []):
        if day == told["on"]:
            workshop.short_visit(engine, day, told["items"], told.get("action"))
    if day == row.get("meter-changed"):
        change_meter(engine, day)
    if day == row.get("belt-lent", {}).get("on"):
        belts.lend(engine, day, row["belt-lent"]["to"])
    if day == row.get("belt-borrowed", {}).get("on"):
        belts.borrow(engine, day, engine.fleet[row["belt-borrowed"]["from"]])
    for told in row.get("exchanged", []):
        if day == told["on"]:
            engine.read_meter(day, arrives=day)
            for part in parts.of_kind(engine, told["kind"], told.get("position")):
                parts.exchange(engine, part, day, told)
    for told in row.get("part-overhauled", []):
        if day == told["on"]:
            for part in parts.of_kind(engine, told["kind"]):
                parts.overhaul(engine, part, day)
    for told in row.get("conceded", []):
        if day == told["on"]:
            concede(engine, day, told)
    store(engine, day)
    if day == row.get("begun-anew"):
        begin_anew(engine, day)
        return True
    if day == row.get("rebuilt"):
        workshop.overhaul(engine, day)
        return True
    return False


def happen(engine, day, kind):
    """Something that the programme asks to look after at once."""
    meter = {"meter": hours(engine.meter)} if engine.installed else {}
    engine.put(day, "events", kind, {"kind": kind} | meter)
    engine.record.events.append(Event(day, kind))
    engine.seen(day)


def move(engine, day, other):
    """Out of its aircraft and into that of another engine, which is off."""
    engine.put(day, "removals", "out", {"meter": hours(engine.meter)})
    engine.aircraft, engine.meter = other.aircraft, other.meter
    body = {"aircraft": engine.aircraft, "meter": hours(engine.meter), "order_in_day": 1}
    engine.put(day, "installations", "in2", body)


def take_off(engine, day):
    """Out of its aircraft; from here on it has an owner of its own."""
    engine.put(day, "removals", "out", {"meter": hours(engine.meter)})
    engine.installed = False
    owner = {"owner": identifier("party", engine.row["owner"])}
    engine.put(day, "ownerships", "own-engine", owner, by="operator")
    engine.describe(f"/v1/engines/{engine.id}/descriptions", day)


def change_meter(engine, day):
    """A new hour meter in the aircraft."""
    change = identifier("meter", engine.serial, day=day)
    path = f"/v1/aircraft/{engine.aircraft}/meter-changes/{change}"
    body = {"on": str(day), "old_end": hours(engine.meter), "new_start": "0.0"}
    engine.requests.put(day, engine.shop.id, path, body)
    engine.meter = 0


def stored(engine, day):
    """Whether the engine lies preserved on a day."""
    return any(told["on"] <= day <= told.get("returned", date.max) for told in engine.row.get("preserved", []))


def store(engine, day):
    """Preserves the engine for storage, or takes it back into use."""
    for told in engine.row.get("preserved", []):
        if day == told["on"]:
            if engine.installed:
                engine.read_meter(day, arrives=day)
            engine.put(day, "preservations", "preserved", {"until": str(told["until"]), "method": told["method"]})
            engine.record.preserved_until = told["until"]
        if day == told.get("returned"):
            happen(engine, day, "return-to-use")
            engine.record.preserved_until = None
            if looked_into := told.get("looked-into"):
                workshop.short_visit(engine, day, [looked_into])


def concede(engine, day, told):
    """An inspector's permission to use a tolerance."""
    body = {"item": told["item"], "until": str(told["until"]), "by": told["by"], "reference": told["reference"]}
    engine.put(day, "concessions", "conceded", body, by="inspector")
    engine.record.concessions.append(Concession(day, told["item"], told["until"]))


def begin_anew(engine, day):
    """Its maker rebuilds it and begins its record at zero: out before, back in after, its parts new."""
    removed, back = day - timedelta(40), day + timedelta(6)
    out = identifier("maker-out", engine.serial, day=day)
    body = {"on": str(removed), "meter": hours(engine.meter)}
    engine.requests.put(day, engine.shop.id, f"/v1/engines/{engine.id}/removals/{out}", body)
    says = {"by": "the maker's own works", "statement": "Rebuilt to new limits; zero time since new."}
    engine.put(day, "maker-restarts", "anew", says, by="operator")
    before = engine.record
    engine.record = Record(day, logged=True, restarted=day, done=before.done, events=before.events)
    engine.hours, engine.since_visit = 0, 0
    engine.seen(day)
    for part in list(engine.parts.values()):
        if part.kind not in parts.ON_AIRCRAFT:
            parts.renew(engine, part, day, "renewed by the maker")
    body = {"on": str(back), "aircraft": engine.aircraft, "meter": hours(engine.meter)}
    into = identifier("maker-in", engine.serial, day=day)
    engine.requests.put(back, engine.shop.id, f"/v1/engines/{engine.id}/installations/{into}", body)
