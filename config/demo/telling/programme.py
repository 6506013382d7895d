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
        self.counts_from = row.get("counts-from")
        self.every = row.get("every", {})
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

    def hours_after(self, tenths):
        """Where the hours of one interval end."""
        return tenths + self.every["hours"] * 10

    def day_after(self, day):
        """Where the calendar of one interval ends."""
        end = add_months(day, self.every.get("months", 0))
        end = month_end(end) if self.to_month_end else end
        return end + timedelta(self.every.get("days", 0))


class Programme:
    """An engine type: its items in their order, and apart from them the fan belt, a part of its own."""

    def __init__(self, path):
        rows = tomllib.loads(path.read_text(encoding="utf-8"))
        self.name = rows["name"]
        self.items = {row["id"]: Item(row, rows["items"]) for row in rows["items"]}
        self.belt = self.items.pop("fan-belt")


@dataclass
class Done:
    """An item done once."""

    on: date
    hours: int
    action: str


@dataclass
class Record:
    """What is on record of an engine."""

    made: date | None
    logged: bool
    overhauled: Done | None = None
    done: dict = field(default_factory=dict)

    def add(self, item, day, hours, action):
        """Puts down that an item was done, and with it the smaller ones that it closes."""
        for closed in (item.id, *item.closes):
            self.done.setdefault(closed, []).append(Done(day, hours, action))

    def moved_on(self, days):
        """The same record, everything in it so many days later."""

        def later(done):
            return replace(done, on=done.on + timedelta(days))

        return Record(
            self.made and self.made + timedelta(days),
            self.logged,
            self.overhauled and later(self.overhauled),
            {item: [later(done) for done in all_done] for item, all_done in self.done.items()},
        )


def due(item, record):
    """Due hours and due day of an item."""
    since, start_hours, start_day = date.min, UNKNOWN, UNKNOWN
    if record.logged:
        start_hours, start_day = 0, record.made
    if item.counts_from == "overhaul" and record.overhauled:
        since = start_day = record.overhauled.on
        start_hours = record.overhauled.hours
    due_hours = due_day = None
    if "hours" in item.every:
        due_hours = UNKNOWN if start_hours == UNKNOWN else item.hours_after(start_hours)
    if "months" in item.every or "days" in item.every:
        due_day = UNKNOWN if start_day == UNKNOWN else item.day_after(start_day)
    for done in sorted(record.done.get(item.id, []), key=lambda done: done.on):
        if done.on <= since:
            continue
        policy = "from-done" if done.action in AFRESH or AFRESH.issuperset(item.done_by) else item.next
        if due_hours is not None:
            due_hours = next_due(policy, due_hours, done.hours, item.tolerance_hours, item.hours_after)
        if due_day is not None:
            due_day = next_due(policy, due_day, done.on, timedelta(item.tolerance_days), item.day_after)
    return due_hours, due_day


def next_due(policy, was_due, done, tolerance, after):
    """When it is due next, having been due then and done then."""
    in_window = was_due != UNKNOWN and was_due - tolerance <= done <= was_due + tolerance
    from_due = was_due != UNKNOWN and (policy == "from-due" and done > was_due or policy == "window" and in_window)
    if not from_due:
        return after(done)
    following = after(was_due)
    while following <= done:
        following = after(following)
    return following


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
