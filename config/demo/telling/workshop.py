"""What the workshops do: the seasons' inspections, and the overhauls in winter."""

from datetime import date, timedelta

from telling import belts, parts
from telling.applies import applies
from telling.days import add_months, hours, in_tenths
from telling.programme import UNKNOWN, Done, belt_due, due
from telling.requests import identifier

ANNUAL, HUNDRED = "annual-inspection", "hundred-hour-inspection"
SETTLING, BULLETIN = "head-nuts-settling", "crankshaft-pin-bulletin"
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
# Not done at an overhaul: the bench does not see the engine in its aircraft, and nothing has settled yet.
NOT_ON_BENCH = {ANNUAL, HUNDRED, SETTLING, BULLETIN, "control-cables-school", "salt-air-corrosion"}
# Not done at the season's visits: a bulletin has days of its own, told in the scenario.
BY_ITSELF = {BULLETIN}
# From here on even the slowest workshop has caught up with its paper.
CAUGHT_UP = date(2026, 9, 1)


def next_yearly(day, month, of_month):
    """The first such day of a year after a day."""
    this_year = date(day.year, month, of_month)
    return this_year if day < this_year else this_year.replace(year=day.year + 1)


def visit(engine, day):
    """One visit: what falls due before the next is done, and reported."""
    work = work_at(engine, day)
    renew_belt_if_due(engine, day)
    engine.visits += 1
    for item in work:
        engine.record.add(item, day, engine.hours, item.done_by[0])
    inspection_id = identifier("inspection", engine.serial, day, day=day)
    post(engine, day, inspection_id, report(engine, day, work))
    engine.since_visit = 0


def short_visit(engine, day, names):
    """A visit for a few items alone, between the others."""
    known = engine.programme.items | engine.programme.after
    work = [known[name] for name in names]
    body = report(engine, day, work)
    for item in work:
        engine.record.add(item, day, engine.hours, item.done_by[0])
    inspection_id = identifier("short-visit", engine.serial, day, day=day)
    engine.requests.put(arrival(engine, day), engine.shop.id, f"/v1/inspections/{inspection_id}", body)


def settling_due(engine):
    """Whether the engine has run on to the next step after an overhaul."""
    due_hours, _ = due(engine.programme.items[SETTLING], engine.record)
    return due_hours not in (None, UNKNOWN) and due_hours <= engine.hours


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
    items = engine.programme.items
    usual = [item for item in items.values() if item.id not in OVERHAUL_ITEMS | BY_ITSELF | {HUNDRED}]
    work = [item for item in usual if applies(item, engine) is True and wanted(item, engine, until)]
    work = [item for item in work if item.id not in left_out(engine, day)]
    if engine.row.get("one-inspection-in") == day.year:
        work = [item for item in work if item.id != ANNUAL]
        return work + [items[ANNUAL]] if day.month == 4 else work
    # An annual inspection serves as the 100-hour one.
    if items[ANNUAL] not in work and soon(*due(items[HUNDRED], engine.record), engine.hours, until):
        work.append(items[HUNDRED])
    return work


def wanted(item, engine, until):
    """Whether an item cannot wait; steps whose beginning is lost are not done at all."""
    figures = due(item, engine.record)
    if item.once:
        return UNKNOWN not in figures and soon(*figures, engine.hours, until, STEP_WITHIN)
    return soon(*figures, engine.hours, until)


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


def renew_belt_if_due(engine, day):
    """The belt is renewed by the same rule. One whose code is lost is left on: nobody knows its age."""
    if engine.row.get("belt-code") == belts.LOST:
        return
    due_hours, due_day = belt_due(engine.programme.belt, engine.belt)
    run = 0 if due_hours == UNKNOWN else engine.hours - engine.belt.hours_before
    if soon(due_hours, due_day, run, next_visit_end(engine, day)):
        belts.take_off(engine, day, "renewed")
        belts.fit_new(engine, day)


def work_lines(work, action_of):
    """The work as it is reported."""
    lines = []
    for item in work:
        lines.append({"item": item.id, "action": action_of(item)})
        if item.positions:
            lines[-1]["positions"] = item.positions
    return lines


def report(engine, day, work):
    """A visit's report."""
    year, of_year, number = day.year % 100, day.timetuple().tm_yday, engine.number
    body = {
        "engine": engine.id,
        "work_order": f"{engine.shop.id[0].upper()}{year}-{number:02}{of_year:03}",
        "opened_on": str(day - timedelta(1 + number % 3)),
        "released_on": str(day),
        "work": work_lines(work, lambda item: item.done_by[0]),
        "release": {"by": f"{engine.shop.name}, inspector {1 + number % 2}"},
    }
    engine.seen(day)
    if engine.installed:
        body["readings"] = [{"meter": hours(engine.meter)}]
    else:
        body["tsn"] = hours(engine.hours)
    if found := found_by(engine, day):
        body["findings"] = [{key: found[key] for key in found if key != "from"}]
        engine.found = found
    return body


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
    due_hours, due_day = due(engine.programme.items["full-overhaul"], engine.record)
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
    engine.hours += BENCH_RUN
    engine.since_visit = BENCH_RUN
    engine.seen(day)
    belts.take_off(engine, day, "renewed at overhaul")
    belts.fit_new(engine, day)
    parts.renew(engine, "crankshaft", day)
    if engine.installed:
        back = day + timedelta(6)
        installation = identifier("oh-in", engine.serial, day=day)
        body = {"on": str(back), "aircraft": engine.aircraft, "meter": hours(engine.meter)}
        requests.put(back, shop, f"/v1/engines/{engine.id}/installations/{installation}", body)


def overhaul_report(engine, day):
    """An overhaul's report: every item named, whatever can be renewed renewed."""

    def action_of(item):
        return "renewed" if "renewed" in item.done_by else item.done_by[0]

    leave = NOT_ON_BENCH | forgotten(engine, day)
    work = [item for item in engine.programme.items.values() if item.id not in leave]
    engine.record.overhauled = Done(day, engine.hours, "overhauled")
    for item in work:
        engine.record.add(item, day, engine.hours, action_of(item))
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
