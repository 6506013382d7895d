"""What the workshops do: the seasons' inspections, and the overhauls in winter."""

from datetime import date, timedelta

from telling import parts
from telling.applies import applies
from telling.count import figures, has_run_out, inspections
from telling.days import add_months, hours, in_tenths
from telling.measured import measurements
from telling.programme import UNKNOWN
from telling.record import Done, Finding
from telling.requests import identifier

ANNUAL, BULLETIN = "annual-inspection", "crankshaft-pin-bulletin"
# An item is done at a visit when fewer hours than these are left, in tenths.
DO_WITHIN = 250
# A step that is done once is not done so long before: hours left, in tenths.
STEP_WITHIN = 20
# After so many hours, in tenths, an engine comes in between the seasons too.
COME_IN_AFTER = 232
# What an overhauled engine runs on the bench, in tenths of an hour.
BENCH_RUN = 10
# Done at an overhaul alone.
OVERHAUL_ITEMS = {"full-overhaul", "crankshaft", "crankcase-seals", "fan-bearings"}
# Not done at an overhaul: the bench does not see the engine in its aircraft.
NOT_ON_BENCH = {
    ANNUAL, "hundred-hour-inspection", "minimum-inspection", BULLETIN, "control-cables-school", "salt-air-corrosion",
}  # fmt: skip
# Not done at the season's visits: a bulletin has days of its own, told in the scenario.
BY_ITSELF = {BULLETIN}
# Parts that a visit renews when their life ends; an overhaul renews them all, and the crankshaft.
RENEWED_AT_VISITS = {"fan-belt", "alternator-belt", "coolant-hose", "oil-hose", "water-pump-seal"}
# Parts that an overhaul takes apart as well.
OVERHAULED_TOO = {"carburettor"}
# From here on even the slowest workshop has caught up with its paper.
CAUGHT_UP = date(2026, 9, 1)


def next_yearly(day, month, of_month):
    """The first such day of a year after a day."""
    this_year = date(day.year, month, of_month)
    return this_year if day < this_year else this_year.replace(year=day.year + 1)


def visit(engine, day):
    """One visit: what falls due before the next is done, and reported."""
    work = work_at(engine, day)
    renew_parts_if_due(engine, day)
    engine.visits += 1
    report_id = identifier("inspection", engine.serial, day, day=day)
    body = report(engine, day, work)
    if found := measurements(engine):
        body["measurements"] = found
    post(engine, day, report_id, body)
    put_down(engine, day, work, usual_action)
    engine.since_visit = 0


def short_visit(engine, day, names, action=None):
    """A visit for a few items alone, between the others."""
    work = [engine.programme.item(name) for name in names]

    def action_of(item):
        return action or usual_action(item)

    body = report(engine, day, work, action_of)
    put_down(engine, day, work, action_of)
    inspection_id = identifier("short-visit", engine.serial, day, *names, day=day)
    engine.requests.put(arrival(engine, day), engine.shop.id, f"/v1/inspections/{inspection_id}", body)


def usual_action(item):
    """What a visit does about an item: one that runs on condition is looked into, and overhauled elsewhere."""
    return "inspected" if item.on_condition else item.done_by[0]


def put_down(engine, day, work, action_of):
    """Puts down in the engine's record what was done."""
    for item in work:
        engine.record.add(item, Done(day, engine.hours, action_of(item), engine.flown))


def settling_due(engine):
    """The items with steps after an overhaul whose next step the engine has run to."""
    items = [item for item in engine.programme.items.values() if item.once]
    due = [(item.id, engine.figures(item)[0]) for item in items]
    return [name for name, hours in due if hours not in (None, UNKNOWN) and hours <= engine.hours]


def next_visit_end(engine, day):
    """The end of the next season's visit, with days to spare."""
    spring = next_yearly(day, 4, 4 + engine.shift)
    autumn = next_yearly(day, 10, 3 + engine.shift)
    return min(spring, autumn) + timedelta(12)


def soon(due_hours, due_day, engine_hours, until, within=DO_WITHIN):
    """Whether something cannot wait for the next visit."""
    if UNKNOWN in (due_hours, due_day):
        return True
    by_hours = due_hours is not None and due_hours - engine_hours < within
    return by_hours or due_day is not None and due_day < until


def work_at(engine, day):
    """The items done at a visit."""
    until = next_visit_end(engine, day)
    programme = engine.programme
    # Whatever the engine's own items are and, of those about parts, what is done to a part and leaves it in place.
    usual = [item for item in programme.items.values() if item.id not in OVERHAUL_ITEMS | BY_ITSELF]
    work = [item for item in usual if applies(item, engine) is True and wanted(item, engine, until)]
    work += [item for item in programme.items.values() if item.on_condition and goes_on(item, engine, day, until)]
    work += [item for item in programme.parts.values() if part_wanted(item, engine, until)]
    work = [item for item in work if item.id not in left_out(engine, day)]
    if engine.row.get("one-inspection-in") == day.year:
        inspections = {ANNUAL, *programme.items[ANNUAL].closes}
        work = [item for item in work if item.id not in inspections]
        return work + [programme.items[ANNUAL]] if day.month == 4 else work
    # An annual inspection serves as the smaller ones.
    served = {name for item in work if item.id == ANNUAL for name in item.closes}
    return [item for item in work if item.id not in served]


def wanted(item, engine, until):
    """Whether an item cannot wait; steps whose beginning is lost are not done at all."""
    due_hours, due_day = engine.figures(item)
    if item.once:
        known = UNKNOWN not in (due_hours, due_day)
        return known and soon(due_hours, due_day, engine.hours, until, STEP_WITHIN)
    return soon(due_hours, due_day, engine.hours, until)


def goes_on(item, engine, day, until):
    """Whether an engine past its life has to be looked into before the next visit, to run on condition."""
    life = figures(item, engine.count())
    due = inspections(item, life, engine.count())
    return has_run_out(life, engine.hours, day) and soon(due.hours, due.day, engine.hours, until)


def part_wanted(item, engine, until):
    """Whether an item about a part cannot wait that is done to it in its place, or to one that nobody registers."""
    fitted = parts.of_kind(engine, item.component)
    if not fitted:
        count = parts.unregistered(engine, item, engine.record)
        told = figures(item, count)
        return item.component not in parts.IF_NAMED and soon(told.hours, told.day, count.hours, until)
    if "inspected" not in item.done_by:
        return False
    counts = [part.count(engine, engine.record) for part in fitted]
    return any(soon(told.hours, told.day, count.hours, until) for count in counts for told in [figures(item, count)])


def left_out(engine, day):
    """The items not done on a day: forgotten, or found wrong and not put right."""
    found = found_by(engine, day)
    return forgotten(engine, day) | {found["item"]} if found else forgotten(engine, day)


def forgotten(engine, day):
    """The items that nobody does from some day on."""
    rule = engine.row.get("left-out")
    return set(rule["items"]) if rule and day >= rule["from"] else set()


def found_by(engine, day):
    """The finding that the visits report from its day on."""
    found = engine.row.get("found")
    return found if found and day >= found["from"] else None


def renew_parts_if_due(engine, day):
    """Parts are renewed by the same rule. A belt whose code is lost is left on: nobody knows its age."""
    for part in list(engine.parts.values()):
        if part.kind not in RENEWED_AT_VISITS or part.made is None:
            continue
        due_hours, due_day, run = engine.part_figures(part)
        known_run = 0 if UNKNOWN in (due_hours, run) else run
        if soon(due_hours, due_day, known_run, next_visit_end(engine, day)):
            parts.renew(engine, part, day, "renewed")


def work_lines(work, action_of):
    """The work as it is reported."""
    lines = []
    for item in work:
        lines.append({"item": item.id, "action": action_of(item)})
        if item.positions:
            lines[-1]["positions"] = item.positions
    return lines


def report(engine, day, work, action_of=usual_action):
    """A visit's report."""
    year, of_year, number = day.year % 100, day.timetuple().tm_yday, engine.number
    body = {
        "engine": engine.id,
        "work_order": f"{engine.shop.id[0].upper()}{year}-{number:02}{of_year:03}",
        "opened_on": str(day - timedelta(1 + number % 3)),
        "released_on": str(day),
        "work": work_lines(work, action_of),
        "release": {"by": f"{engine.shop.name}, inspector {1 + number % 2}"},
    }
    engine.seen(day)
    if engine.installed:
        body["readings"] = [{"meter": hours(engine.meter)}]
    else:
        body["tsn"] = hours(engine.hours)
    if found := found_by(engine, day):
        body["findings"] = [{key: as_posted(found[key]) for key in found if key != "from"}]
        rest = {"position": found.get("position", "-"), "recheck": found.get("recheck", {})}
        engine.record.found = Finding(day, engine.hours, found["item"], condition=found["condition"], **rest)
    return body


def as_posted(value):
    """A value of the scenario as JSON has it."""
    if isinstance(value, dict):
        return {key: as_posted(inner) for key, inner in value.items()}
    return str(value) if isinstance(value, date) else value


def post(engine, day, inspection_id, body):
    """Sends a report: late, doubled or wrong, as the scenario has it."""
    path, row = f"/v1/inspections/{inspection_id}", engine.row
    arrives = arrival(engine, day)
    misread = engine.once("misread", day)
    if misread:
        post_misread(engine, arrives, path, inspection_id, body, misread)
    else:
        engine.requests.put(arrives, engine.shop.id, path, body)
    if engine.visits in row.get("posted-twice", []):
        engine.requests.put(arrives + timedelta(2), engine.shop.id, path, body)
    if engine.once("wrong-engine", day):
        post_and_withdraw(engine, arrives, day)


def arrival(engine, day):
    """The day on which a report arrives."""
    late = engine.shop.late and day < CAUGHT_UP
    return day + timedelta(20 + engine.number * 7 % 30 if late else 1)


def post_misread(engine, arrives, path, inspection_id, body, misread):
    """A report with the meter misread, and what corrects it."""
    wrong = body | {"readings": [{"meter": hours(engine.meter - in_tenths(misread["by"]))}]}
    engine.requests.put(arrives, engine.shop.id, path, wrong)
    amendment = identifier("amend", engine.serial, day=date.fromisoformat(body["released_on"]))
    correction = {
        "engine": engine.id,
        "supersedes": inspection_id,
        "reason": f"meter misread by {misread['by']} h",
        "inspection": body,
    }
    later = arrives + timedelta(misread["corrected-after-days"])
    engine.requests.put(later, engine.shop.id, f"{path}/amendments/{amendment}", correction)


def post_and_withdraw(engine, arrives, day):
    """A report that was another engine's, and its withdrawal."""
    wrong_id = identifier("wrong", engine.serial, day=day)
    path = f"/v1/inspections/{wrong_id}"
    pistons = {"item": "pistons-and-rings", "positions": ["mag", "pto"], "action": "renewed"}
    body = {"engine": engine.id, "opened_on": str(day), "released_on": str(day), "work": [pistons]}
    engine.requests.put(arrives, engine.shop.id, path, body)
    withdrawal = {
        "engine": engine.id,
        "supersedes": wrong_id,
        "reason": "posted for the wrong engine",
        "withdrawn": True,
    }
    amendment = identifier("withdraw", engine.serial, day=day)
    engine.requests.put(arrives + timedelta(3), engine.shop.id, f"{path}/amendments/{amendment}", withdrawal)


def wants_overhaul(engine, day):
    """Whether an engine is to be overhauled this winter: it would not last another year."""
    due_hours, due_day = engine.figures(engine.programme.items["full-overhaul"])
    if due_hours == UNKNOWN:
        return False
    return due_hours - engine.hours < engine.row["hours-a-year"] * 10 or due_day < add_months(day, 12)


def overhaul(engine, day):
    """A full overhaul, released on that day: out of the aircraft before, back in after, a new belt on."""
    requests, shop = engine.requests, engine.shop.id
    if engine.installed:
        removal = identifier("oh-out", engine.serial, day=day)
        body = {"on": str(day - timedelta(25)), "meter": hours(engine.meter)}
        requests.put(day, shop, f"/v1/engines/{engine.id}/removals/{removal}", body)
    overhaul_id = identifier("overhaul", engine.serial, day, day=day)
    body = overhaul_report(engine, day)
    requests.put(day + timedelta(1), shop, f"/v1/inspections/{overhaul_id}", body)
    for part in list(engine.parts.values()):
        if part.kind in OVERHAULED_TOO:
            parts.overhaul(engine, part, day)
    engine.hours += BENCH_RUN
    engine.since_visit = BENCH_RUN
    engine.seen(day)
    for part in list(engine.parts.values()):
        if part.kind in RENEWED_AT_VISITS | {"crankshaft"}:
            renew_at_overhaul(engine, part, day)
    if engine.installed:
        back = day + timedelta(6)
        installation = identifier("oh-in", engine.serial, day=day)
        body = {"on": str(back), "aircraft": engine.aircraft, "meter": hours(engine.meter)}
        requests.put(back, shop, f"/v1/engines/{engine.id}/installations/{installation}", body)


def renew_at_overhaul(engine, part, day):
    """A new part; for a crankshaft whose own hours are counted one from the press shop, with its papers."""
    if part.kind == "crankshaft" and engine.programme.life_of("crankshaft"):
        papers = {"on": day - timedelta(50), "hours-since": "0.0"}
        told = {"hours": "287.5", "first-fitted": day - timedelta(2200), "overhauled": papers}
        parts.exchange(engine, part, day, told)
    else:
        parts.renew(engine, part, day, "renewed at overhaul")


def overhaul_report(engine, day):
    """An overhaul's report: every item named, whatever can be renewed renewed."""

    def action_of(item):
        return "renewed" if "renewed" in item.done_by else item.done_by[0]

    leave = NOT_ON_BENCH | forgotten(engine, day)
    # Nothing has settled yet that is to be looked at after so many hours.
    items = [item for item in engine.programme.items.values() if not item.once and item.id not in leave]
    work = [item for item in items if applies(item, engine) is True]
    engine.record.overhauled = Done(day, engine.hours, "overhauled")
    put_down(engine, day, work, action_of)
    body = {
        "engine": engine.id,
        "opened_on": str(day - timedelta(24)),
        "released_on": str(day),
        "overhaul": {"scope": "full"},
        "test_run": hours(BENCH_RUN),
        "work": work_lines(work, action_of),
        "release": {"by": f"{engine.shop.name}, inspector 1"},
    }
    if engine.record.logged:
        body["tsn"] = hours(engine.hours)
    return body
