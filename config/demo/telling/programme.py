"""Due sums of the demonstration's own, apart from the service's: they say what it has to answer.

Hours are tenths of an hour. `UNKNOWN` stands for what cannot be told, `None` for what is not counted.
"""

import tomllib
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from telling.days import add_months, month_end

UNKNOWN = "?"
WORST_FIRST = ["overdue", "unknown", "in-tolerance", "coming-due", "not-due"]
# With these the count begins again from the work itself, however late or early it was.
AFRESH = {"renewed", "overhauled"}
# How early an item is said to be coming due, where its own notice does not say.
NOTICE = {"hours": 10, "days": 30}


class Item:
    """One item of the engine type's file, with the figures that the sums need."""

    def __init__(self, row, rows):
        self.id, self.title = row["id"], row["title"]
        self.positions = row.get("positions", [])
        self.component, self.applies_to = row.get("component"), row.get("applies-to", {})
        self.counts_from, self.effective = row.get("counts-from"), row.get("effective")
        self.every = row.get("every", {})
        self.first = row.get("first", self.every)
        # Steps that are done once each, in tenths from the start.
        self.once = [step * 10 for step in row.get("once", [])]
        self.until, self.after = row.get("until", []), row.get("after", [])
        self.to_month_end = row.get("calendar") == "end-of-month"
        self.next = row.get("next", "from-done")
        self.done_by = row["done-by"]
        self.notice = NOTICE | row.get("notice", {})
        self.limits = row.get("limits", [])
        self.tolerance_hours, self.tolerance_days = self._tolerance(row.get("tolerance", {}))
        # Only a tolerance granted by itself changes how a line stands; the others are for those who ask.
        self.granted = row.get("granted", "automatic") == "automatic"
        self.closes = [smaller["id"] for smaller in rows if self.id in smaller.get("satisfied-by", [])]

    def _tolerance(self, rule):
        """The tolerance in tenths of an hour and in days; a month counts 30 days."""
        if "percent" not in rule:
            return rule.get("hours", 0) * 10, 0
        percent, every = rule["percent"], self.every
        nominal_days = every.get("months", 0) * 30 + every.get("days", 0)
        tenths = every.get("hours", 0) * 10 * percent // 100
        days = nominal_days * percent // 100
        hours_max, days_max = rule.get("hours-max", every.get("hours", 0)), rule.get("days-max", days)
        return min(tenths, hours_max * 10), min(days, days_max)

    def hours_after(self, tenths, interval=None):
        """Where the hours of an interval end; `None` if it has none. Without one it is the one that repeats."""
        interval = self.every if interval is None else interval
        if "hours" not in interval:
            return None
        return UNKNOWN if tenths == UNKNOWN else tenths + interval["hours"] * 10

    def day_after(self, day, interval=None):
        """Where the calendar of an interval ends; `None` if it has none."""
        interval = self.every if interval is None else interval
        if not {"months", "days"} & interval.keys():
            return None
        if day == UNKNOWN:
            return UNKNOWN
        end = add_months(day, interval.get("months", 0))
        end = month_end(end) if self.to_month_end else end
        return end + timedelta(interval.get("days", 0))


class Programme:
    """An engine type: its items in their order, and apart from them what asks for a part or for what happened."""

    def __init__(self, path):
        rows = tomllib.loads(path.read_text(encoding="utf-8"))
        self.name = rows["name"]
        self.items = {row["id"]: Item(row, rows["items"]) for row in rows["items"]}
        # The fan belt is a part of its own, and one bulletin asks for its lot.
        self.belt, self.belt_bulletin = self.items.pop("fan-belt"), self.items.pop("fan-belt-lot-bulletin")
        self.after = {name: item for name, item in self.items.items() if item.after}
        self.items = {name: item for name, item in self.items.items() if not item.after}


@dataclass
class Done:
    """An item done once."""

    on: date
    hours: int
    action: str


@dataclass
class Event:
    """Something that happened to the engine."""

    on: date
    kind: str


@dataclass
class Reading:
    """The engine's hours as they were put down on a day."""

    on: date
    hours: int


@dataclass
class Record:
    """What is on record of an engine."""

    made: date | None
    logged: bool
    overhauled: Done | None = None
    done: dict = field(default_factory=dict)
    events: list = field(default_factory=list)
    readings: list = field(default_factory=list)

    def hours_at(self, day):
        """The last hours put down by the end of a day."""
        known = [reading for reading in self.readings if reading.on <= day]
        return max(known, key=lambda reading: (reading.on, reading.hours)).hours if known else UNKNOWN

    def add(self, item, day, hours, action):
        """Puts down that an item was done, and with it the smaller ones that it closes."""
        for closed in (item.id, *item.closes):
            self.done.setdefault(closed, []).append(Done(day, hours, action))

    def moved_on(self, days):
        """The same record, everything in it so many days later."""

        def later(dated):
            return replace(dated, on=dated.on + timedelta(days))

        return Record(
            self.made and self.made + timedelta(days),
            self.logged,
            self.overhauled and later(self.overhauled),
            {item: [later(done) for done in all_done] for item, all_done in self.done.items()},
            [later(event) for event in self.events],
            [later(reading) for reading in self.readings],
        )


def due(item, record):
    """Due hours and due day of an item."""
    start_hours, start_day, since = start(item, record)
    all_done = sorted(record.done.get(item.id, []), key=lambda done: done.on)
    all_done = [done for done in all_done if done.on > since]
    due_hours, due_day = item.hours_after(start_hours, item.first), item.day_after(start_day, item.first)
    for done in all_done:
        due_hours = next_hours(item, due_hours, done)
        due_day = next_due(policy(item, done), due_day, done.on, timedelta(item.tolerance_days), item.day_after)
    return step_due(item, start_hours, all_done) if item.once else due_hours, due_day


def start(item, record):
    """Where the count of an item begins, hours and day, and the day after which work on it counts."""
    new = (0, record.made, date.min) if record.logged else (UNKNOWN, UNKNOWN, date.min)
    if item.counts_from == "overhaul" and record.overhauled:
        return record.overhauled.hours, record.overhauled.on, record.overhauled.on
    # Nothing was there to look at before the engine was made.
    if item.counts_from == "effective" and not (record.made and record.made > item.effective):
        return record.hours_at(item.effective), item.effective, item.effective
    return new


def step_due(item, start_hours, all_done):
    """Due hours of an item with steps. Work closes every step that it has reached, or else the next one."""
    if start_hours == UNKNOWN:
        return UNKNOWN
    steps = [start_hours + step for step in item.once]
    for number, done in enumerate(all_done):
        steps = steps[max(sum(step <= done.hours for step in steps), 1) :]
        if not steps:
            return repeat_due(item, all_done[number:])
    return steps[0]


def repeat_due(item, all_done):
    """Due hours of what repeats after the last step, from the work that closed that one."""
    due_hours = UNKNOWN
    for done in all_done:
        due_hours = next_hours(item, due_hours, done)
    return due_hours


def policy(item, done):
    """From where the next interval is counted."""
    return "from-done" if done.action in AFRESH or AFRESH.issuperset(item.done_by) else item.next


def next_hours(item, was_due, done):
    """Due hours after an item was done."""
    return next_due(policy(item, done), was_due, done.hours, item.tolerance_hours, item.hours_after)


def next_due(policy, was_due, done, tolerance, after):
    """When it is due next, having been due then and done then."""
    known = was_due not in (None, UNKNOWN)
    in_window = known and was_due - tolerance <= done <= was_due + tolerance
    from_due = known and (policy == "from-due" and done > was_due or policy == "window" and in_window)
    if not from_due:
        return after(done)
    following = after(was_due)
    while following is not None and following <= done:
        following = after(following)
    return following


def ended(item, record):
    """Whether work has ended an item for good."""
    return any(done.action in item.until for done in record.done.get(item.id, []))


def happened(item, record, since=date.min):
    """The first event, on that day or after it, that an item asks about and no work after it has answered."""
    answered = max((done.on for done in record.done.get(item.id, [])), default=date.min)
    asked = [event for event in record.events if event.kind in item.after and event.on >= since]
    return next((event for event in asked if event.on > answered), None)


def belt_due(item, belt):
    """Due hours on the belt's own count, and due day. A shelf life ends with the fitting, if that was in time."""
    due_hours, days = None, []
    for limit in item.limits:
        start = belt.fitted if limit["counts-from"] == "first-fitted" else belt.made
        end = start and add_months(start, limit["every"]["months"])
        if not (limit.get("shelf") and end and belt.fitted <= end):
            days.append(end)
        if "hours" in limit["every"]:
            due_hours = UNKNOWN if belt.hours_before is None else limit["every"]["hours"] * 10
    return due_hours, UNKNOWN if None in days else min(days)


def status(item, due_hours, due_day, hours_now, as_of):
    """How an item stands on a day."""
    by_hours = (due_hours, hours_now, item.tolerance_hours, item.notice["hours"] * 10)
    by_day = (due_day, as_of, timedelta(item.tolerance_days), timedelta(item.notice["days"]))
    sides = [_standing(*side, item.granted) for side in (by_hours, by_day)]
    return min(sides, key=WORST_FIRST.index)


def _standing(due, now, tolerance, notice, granted):
    if due is None:
        return "not-due"
    if due == UNKNOWN:
        return "unknown"
    if now > due:
        return "in-tolerance" if granted and now <= due + tolerance else "overdue"
    return "coming-due" if now >= due - notice else "not-due"
