"""The rule of a line, and the two kinds of legs that are counted by it: hours and calendar."""

import re
from dataclasses import dataclass, field
from datetime import date, timedelta

from workings.sums import SPAN, Disagreement, DueDay, H, Span, in_hours, insist, seconds, shift


@dataclass
class Rule:
    """What the sentences `After work` and `Past due` say."""

    policy: str = ""
    past_due: str = ""
    en_route_only: bool = False
    needs_permission: bool = False
    extension: int | None = None
    hours: int | None = None
    span: Span | None = None
    percent: int | None = None
    hours_max: int | None = None
    days_max: int | None = None

    def tolerance_part(self, text):
        """Takes one part of a tolerance: hours, calendar time, or a percentage with its caps."""
        most = rf"(?: \(at most (?:(?P<hours>{H}) h)?(?: and )?(?:(?P<days>\d+) days)?\))?"
        if re.fullmatch(rf"{H} h", text):
            self.hours = seconds(text.removesuffix(" h"))
        elif re.fullmatch(SPAN, text):
            self.span = Span.read(text)
        elif share := re.fullmatch(rf"(?P<percent>\d+) % of the interval{most}", text):
            self.percent = int(share["percent"])
            self.hours_max = seconds(share["hours"]) if share["hours"] else None
            self.days_max = int(share["days"]) if share["days"] else None
        else:
            raise Disagreement(f"a tolerance that cannot be redone: {text}")

    def permission(self):
        """What running past due is called beside the latest."""
        return "tolerance" if self.extension is None else f"extension of {self.extension} %"


@dataclass(eq=False)
class Leg:
    """One side of one limit, as far as the sentences have brought it."""

    limit: str
    every: object
    first: object = None
    steps: list = field(default_factory=list)
    to_month_end: bool = False
    number: int = 0  # of its limit
    since: object = None
    span: object = None  # the interval that leads to what is due
    due: object = None
    latest: object = None
    bound: object = None  # due no later than this, though when cannot be told
    missing: str | None = None
    permitted: bool | None = None
    permitted_until: date | None = None
    last_done: date = date.min
    done_at: list = field(default_factory=list)  # the day of each time, and the hours where they count
    overrun: int = 0
    beyond: bool = False
    left: int | None = None
    status: str | None = None
    worn = False  # due by a measured limit

    def counted(self):
        return self.due is not None or self.missing is not None

    def first_due(self):
        """The first due, from where the count begins."""
        self.span, self.due = self.first, self.begin(self.since, self.first)
        return self.due

    def in_order(self, day, at=None):
        insist(self.last_done <= day, f"work of {day} is counted after that of {self.last_done}")
        self.last_done = day
        self.done_at.append((day, at))

    def done(self, done, fresh, rule):
        """Takes work in; gives the reason that the rule has for what comes next, and how many intervals."""
        insist(self.every is not None, "an interval that repeats, where the limit has none")
        was_due, window, times = None, None, 1
        if self.due is not None:
            was_due, window, times = self.point(self.due), self.window(rule), self.intervals_past(done)
            self.overrun = max(0, self.distance(was_due, done))
            self.beyond = done > self.furthest(rule)
        reason = reason_for(rule.policy, done, was_due, fresh, window, times)
        from_due = "from when it was due" in reason
        self.due = self.moved(times) if from_due else self.begin(done, self.every)
        self.since, self.span, self.missing = done, self.every, None
        return reason, times if from_due else 1

    def intervals_past(self, done):
        """The fewest whole intervals from due that end after `done`."""
        insist(self.length(self.every) > 0, "an interval of nothing")
        times = 1
        while self.point(self.moved(times)) <= done:
            times += 1
        return times

    def lose(self, why):
        """From here on this side cannot be told."""
        self.due, self.missing, self.overrun, self.beyond = None, why, 0, False

    def longest(self):
        """The longer of the first interval and the repeat: nobody can tell which of them it is."""
        insist(None not in (self.first, self.every), "a bound that nothing proves")
        return max(self.first, self.every, key=self.length)

    def late_at_due(self, rule):
        """Whether past due is overdue at once: the permission that it takes is not there."""
        return rule.en_route_only or rule.needs_permission and not self.permitted


def reason_for(policy, done, was_due, fresh, window, times):
    """Which answer a policy gives to work done at `done`, in the words in which it must be printed."""
    if was_due is None or fresh:
        return "the count starts afresh from when it was done"
    if policy == "from-done":
        return "this rule counts from when it was done"
    if policy == "from-due" and done <= was_due:
        return "not late, so it counts from when it was done"
    if policy == "window" and not window[0] <= done <= window[1]:
        return "outside the window, so it counts from when it was done"
    if times > 1:
        return f"so late that it counts from when it was due by {times} whole intervals"
    late = "late" if policy == "from-due" else "inside the window"
    return f"{late}, so it counts from when it was due"


class HoursLeg(Leg):
    """Counts running hours, in seconds."""

    axis, unit = "hours", "h"

    def point(self, due):
        return due

    def length(self, span):
        return span

    def interval(self):
        return self.span

    def distance(self, start, end):
        return end - start

    def begin(self, start, span):
        return start + span

    def moved(self, times):
        return self.due + times * self.every

    def allowance(self, rule):
        """How far past due it may run: the extension, or the strictest part of the tolerance."""
        if rule.extension is not None:
            return self.span * rule.extension // 100
        parts = [] if rule.hours is None else [rule.hours]
        if rule.percent is not None:
            share = self.span * rule.percent // 100
            parts.append(share if rule.hours_max is None else min(share, rule.hours_max))
        return min(parts, default=0)

    def furthest(self, rule):
        return self.due + self.allowance(rule)

    def close_steps(self, done, rule):
        """Work closes every step it has reached, else the next one; gives whether it had reached any."""
        reached = [step for step in self.steps if self.since + step <= done]
        self.overrun = max(0, done - self.due)
        self.beyond = self.overrun > self.allowance(rule)
        self.steps = self.steps[max(1, len(reached)) :]
        self.next_step()
        return bool(reached)

    def next_step(self):
        self.span = self.steps[0] if self.steps else None
        self.due = self.since + self.span if self.steps else None

    def window(self, rule):
        """As far either side of due as the tolerance reaches; an extension opens none."""
        reach = self.allowance(rule) if rule.extension is None else 0
        return self.due - reach, self.due + reach

    def write(self, at):
        return f"{in_hours(at)} h"


class CalendarLeg(Leg):
    """Counts the calendar; what is due holds through its day. A month counts 30 days in a percentage."""

    axis, unit = "calendar", "days"

    def point(self, due):
        return due.day()

    def length(self, span):
        return span.months * 30 + span.days

    def interval(self):
        return (self.due.day() - self.since).days

    def distance(self, start, end):
        return (end - start).days

    def begin(self, start, span):
        return DueDay(start, span, self.to_month_end)

    def moved(self, times):
        return self.due.plus(self.every, times)

    def share_days(self, rule):
        share = self.length(self.span) * rule.percent // 100
        return share if rule.days_max is None else min(share, rule.days_max)

    def furthest(self, rule):
        """The latest day. Months of an extension or a tolerance count from the anchor, like the due day."""
        if rule.extension is not None:
            return self.due.plus(self.span.share(rule.extension)).day()
        days = [] if rule.span is None else [self.tolerated(rule.span)]
        if rule.percent is not None:
            days.append(self.due.day() + timedelta(self.share_days(rule)))
        return min(days, default=self.due.day())

    def tolerated(self, span):
        """So much after due. An interval of days has no month to run to the end of: from the due day itself."""
        if self.span.months:
            return self.due.plus(span).day()
        return shift(self.due.day(), span.months, span.days)

    def window(self, rule):
        """From as long before due as the tolerance reaches after it."""
        due = self.due.day()
        if rule.extension is not None:
            return due, due
        days = [] if rule.span is None else [shift(due, -rule.span.months, -rule.span.days)]
        if rule.percent is not None:
            days.append(due - timedelta(self.share_days(rule)))
        return max(days, default=due), self.furthest(rule)

    def write(self, at):
        return str(at)
