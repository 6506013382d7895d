"""Due sums of the demonstration's own, apart from the service's: they say what it has to answer."""

from dataclasses import dataclass
from datetime import date

from telling.days import DueDay
from telling.programme import AFRESH, UNKNOWN


@dataclass
class Count:
    """Something that hours and days are counted on: an engine, or a part with hours of its own."""

    # Where a limit's count begins: hours, day, and the day after which work counts.
    start: callable
    # The times that a limit's item was done, in order, with the hours of this count.
    done: callable
    # What it has run; `UNKNOWN` where nobody knows.
    hours: int | str


@dataclass(frozen=True)
class Leg:
    """One side of a limit: when it is due, and how far a tolerance or an extension reaches."""

    due: int | date | str
    latest: int | date | str


LOST = Leg(UNKNOWN, UNKNOWN)


@dataclass
class Figures:
    """How an item stands on paper: its legs by hours and by the calendar."""

    by_hours: list
    by_day: list

    @property
    def hours(self):
        """The earliest due hours; `UNKNOWN` if one cannot be told, `None` if none is counted."""
        return earliest(self.by_hours)

    @property
    def day(self):
        """The earliest due day, likewise."""
        return earliest(self.by_day)


def earliest(legs):
    """The first of several legs that each have to be kept."""
    dues = [leg.due for leg in legs]
    return UNKNOWN if UNKNOWN in dues else min(dues, default=None)


def figures(item, count, first_fitted=None):
    """Counts every limit of an item. A shelf life ends with the fitting, if that was in time."""
    by_hours, by_day = [], []
    for limit in item.limits:
        start_hours, start_day, since = count.start(limit)
        done = [once for once in count.done(item, limit) if once.on > since and item.begins_again(once)]
        steps = steps_leg if limit.once else hours_leg
        by_hours.append(steps(item, limit, start_hours, done))
        leg = days_leg(item, limit, start_day, done)
        kept = limit.shelf and leg and leg != LOST and first_fitted and first_fitted <= leg.due
        by_day.append(None if kept else leg)
    return Figures([leg for leg in by_hours if leg], [leg for leg in by_day if leg])


def inspections(item, life, count):
    """How the inspections of an item on condition stand, from how its life does. The first is due when the
    extension ends. One counts if the life had run out when it was done, by hours or by the calendar."""
    looks = [once for once in count.done(item, None) if not item.begins_again(once)]
    last = next((once for once in reversed(looks) if has_run_out(life, once.hours, once.on)), None)
    if last is None:
        ends = [[Leg(leg.latest, leg.latest) for leg in legs] for legs in (life.by_hours, life.by_day)]
        return Figures(*ends)
    every, by_hours, by_day = item.on_condition, [], []
    if "hours" in every:
        due = UNKNOWN if last.hours == UNKNOWN else last.hours + every["hours"] * 10
        by_hours.append(Leg(due, due))
    for unit in {"months", "days"} & every.keys():
        due = DueDay(last.on).plus({unit: every[unit]}).day
        by_day.append(Leg(due, due))
    return Figures(by_hours, by_day)


def has_run_out(life, hours, day):
    """Whether a life had run out at so many hours on a day."""
    by_hours = any(UNKNOWN not in (leg.due, hours) and hours >= leg.due for leg in life.by_hours)
    return by_hours or any(leg.due != UNKNOWN and day >= leg.due for leg in life.by_day)


def hours_leg(item, limit, start, done):
    """The leg by hours: the first interval, then whatever follows each time it was done."""
    interval = limit.first.get("hours")
    due = interval if interval is None else UNKNOWN if start == UNKNOWN else start + interval * 10
    for once in done:
        due = next_hours(item, limit, interval, due, once)
        interval = limit.every.get("hours")
    return hours_until(item, due, interval and interval * 10)


def next_hours(item, limit, interval, due, once):
    """Due hours after it was done once; `None` when nothing repeats by hours."""
    every = limit.every.get("hours")
    if every is None or once.hours == UNKNOWN:
        return every and UNKNOWN
    beyond = 0 if due in (None, UNKNOWN) or item.extension_percent else item.hours_beyond(interval * 10)
    if not counts_from_due(item, once, due, once.hours, beyond, beyond):
        return once.hours + every * 10
    due += every * 10
    while due <= once.hours:
        due += every * 10
    return due


def hours_until(item, due, tenths):
    """A leg that is due at so many hours, after an interval."""
    if due is None:
        return None
    return LOST if due == UNKNOWN else Leg(due, due + item.hours_beyond(tenths))


def steps_leg(item, limit, start, done):
    """The leg of steps. Work closes every step that it has reached, or else the next one; then it repeats."""
    if start == UNKNOWN:
        return LOST
    steps = list(limit.once)
    for number, once in enumerate(done):
        reached = sum(start + step <= once.hours for step in steps)
        steps = steps[max(reached, 1) :]
        if not steps:
            return repeat_leg(item, limit, done[number:])
    return hours_until(item, start + steps[0], steps[0])


def repeat_leg(item, limit, done):
    """The leg that repeats after the last step, from the work that closed that one."""
    every, due = limit.every.get("hours"), None
    for once in done:
        due = next_hours(item, limit, every, due, once)
    return hours_until(item, due, every and every * 10)


def days_leg(item, limit, start, done):
    """The leg by the calendar, likewise."""
    interval, due = limit.first, limit.day_after(start, limit.first)
    for once in done:
        due = next_day(item, limit, interval, due, once)
        interval = limit.every
    if due in (None, UNKNOWN):
        return due and LOST
    return Leg(due.day, item.latest_day(due, interval))


def next_day(item, limit, interval, due, once):
    """The due day after it was done once."""
    from_done = limit.day_after(once.on, limit.every)
    if due in (None, UNKNOWN) or from_done is None:
        return from_done
    closed = item.extension_percent is not None
    before = 0 if closed else (due.day - item.window_start(due, interval)).days
    after = 0 if closed else (item.latest_day(due, interval) - due.day).days
    if not counts_from_due(item, once, due.day.toordinal(), once.on.toordinal(), before, after):
        return from_done
    due = due.plus(limit.every)
    while due.day <= once.on:
        due = due.plus(limit.every)
    return due


def counts_from_due(item, once, due, done, before, after):
    """Whether the next interval begins where the last one ended, and not with the work."""
    if due in (None, UNKNOWN) or once.action in AFRESH or item.next == "from-done":
        return False
    if item.next == "from-due":
        return done > due
    return due - before <= done <= due + after
