"""The sentences of a working, each with what is redone when it is read."""

import re
from dataclasses import dataclass, field
from datetime import date

from workings.legs import CalendarLeg, HoursLeg, Rule
from workings.standing import STATUSES, first_to_come, standing, told
from workings.sums import SPAN, D, Disagreement, DueDay, H, Span, add_up, agree, in_hours, insist, seconds

CLASSES = "airworthiness-limitation|directive|required-inspection|recommended"
NEVER_LATE = {"airworthiness-limitation", "directive"}  # they have neither tolerance nor extension

WHAT = r"(?P<action>[a-z]+)(?:, record [^()]+)?"
END = r"(?P<end>, to the end of the month)?"
LIMIT = r"(?:, (?P<limit>[^:]+?))?"

SENTENCES = []


def sentence(pattern):
    """Marks a method as the reader of the sentences that look like this, the full stop left out."""

    def mark(method):
        SENTENCES.append((re.compile(pattern), method))
        return method

    return mark


@dataclass
class Sheet:
    """The paper on which one working is redone, sentence after sentence."""

    as_of: date | None = None
    hours_said: bool = False
    now: int | None = None
    read_on: date | None = None
    source: str | None = None
    class_: str | None = None
    rule: Rule = field(default_factory=Rule)
    legs: list = field(default_factory=list)
    limits: int = 0
    title: str | None = None
    finding: str | None = None
    notices: dict = field(default_factory=dict)
    shares_shown: bool = False
    governs: str = "none"
    status: str | None = None

    def read(self, text):
        insist(self.status is None, f"a sentence after the status: {text}")
        insist(self.as_of or text.startswith("As of "), f"a sentence before the day it is for: {text}")
        for pattern, method in SENTENCES:
            if match := pattern.fullmatch(text.removesuffix(".")):
                return method(self, **match.groupdict())
        raise Disagreement(f"a sentence that cannot be redone: {text}")

    def leg(self, axis):
        """The leg that is being counted: the last one on that side."""
        of_axis = [leg for leg in self.legs if leg.axis == axis]
        insist(of_axis, f"a step by {axis} before any limit by {axis}")
        return of_axis[-1]

    def named(self, axis, limit, waiting):
        """The next leg of that side and limit that still waits for such a sentence."""
        found = [leg for leg in self.legs if (leg.axis, leg.limit) == (axis, limit or "") and waiting(leg)]
        insist(found, f"one sentence too many by {axis} {limit or ''}".rstrip())
        return found[0]

    # What is known before any counting

    @sentence(rf"As of (?P<day>{D})")
    def on_this_day(self, day):
        self.as_of = date.fromisoformat(day)

    @sentence(
        rf"(?P<title>.+: (?:found to (?:repair|renew|scrap)|look again)) "
        rf"\(record [^()]+, (?P<source>found at the inspection released (?P<day>{D}))\); "
        rf"no later work there answers it"
    )
    def open_finding(self, title, source, day):
        self.title, self.source = title, source
        if date.fromisoformat(day) > self.as_of:
            self.finding = "not due on record"
        else:
            self.finding = "coming due" if title.endswith(": look again") else "overdue"

    @sentence(r"Hours now: not known")
    def hours_not_known(self):
        self.hours_said = True

    @sentence(rf"Hours now: (?P<total>.+) = (?P<now>{H}) h, read (?P<day>{D})")
    def hours_now(self, total, now, day):
        agree("hours now", seconds(now), add_up(total))
        self.hours_said, self.now, self.read_on = True, seconds(now), date.fromisoformat(day)

    @sentence(rf"Rule: (?P<source>.+), (?P<class_>{CLASSES})")
    def source_and_class(self, source, class_):
        self.source, self.class_ = source, class_

    @sentence(r"After work: always counts from done")
    def counts_from_done(self):
        self.rule.policy = "from-done"

    @sentence(
        r"After work: counts on from due if it was late, from done if not; "
        r"a renewal or overhaul always from done"
    )
    def counts_from_due(self):
        self.rule.policy = "from-due"

    @sentence(
        r"After work: counts on from due if done inside the tolerance before or after due, else from done; "
        r"a renewal or overhaul always from done"
    )
    def counts_by_window(self):
        self.rule.policy = "window"

    @sentence(r"Past due: overdue at once")
    def no_tolerance(self):
        self.rule.past_due = "overdue at once"

    @sentence(
        r"Past due: extension of (?P<percent>\d+) % of the interval from its start, "
        r"months and days rounded down, then on condition"
    )
    def extension(self, percent):
        insist(self.class_ not in NEVER_LATE, f"an extension of a {self.class_}")
        self.rule.past_due, self.rule.extension = "extension", int(percent)

    @sentence(
        r"Past due: tolerance of (?P<parts>.+?)(?:, the strictest on each side)?"
        r"(?P<needs>; it (?:needs a permission recorded before due and none is on record"
        r"|is only for reaching a place where the work can be done), so overdue at once)?"
    )
    def tolerance(self, parts, needs):
        insist(self.class_ not in NEVER_LATE, f"a tolerance of a {self.class_}")
        self.rule.past_due, self.rule.late_at_due = "tolerance", needs is not None
        for part in parts.split(" or "):
            self.rule.tolerance_part(part)

    # Counting one limit after another

    @sentence(
        rf"Limit(?: (?P<name>[^:]+))?: every (?:(?P<hours>{H}) h)?(?: or every )?"
        rf"(?:(?P<span>{SPAN}){END})?(?P<both>, whichever comes first)?"
    )
    def limit(self, name, hours, span, end, both):
        known = self.hours_said and self.class_ and self.rule.policy and self.rule.past_due
        insist(known, "a limit before the hours, the class and the rule it is counted by")
        agree("`whichever comes first`", both is not None, None not in (hours, span))
        self.limits += 1
        if hours:
            self.legs.append(HoursLeg(name or "", seconds(hours)))
        if span:
            self.legs.append(CalendarLeg(name or "", Span.read(span), end is not None))

    @sentence(rf"Hours count from (?P<what>[^:]+): (?P<start>{H}) h")
    def hours_start(self, what, start):
        if what in ("new", "when the part was made"):
            agree(f"hours when {what}", seconds(start), 0)
        self.leg("hours").since = seconds(start)

    @sentence(rf"Calendar counts from (?P<what>[^:]+): (?P<start>{D})")
    def calendar_start(self, what, start):
        self.leg("calendar").since = date.fromisoformat(start)

    @sentence(rf"First due: (?P<start>{H}) h \+ (?P<every>{H}) h = (?P<due>{H}) h")
    def first_hours(self, start, every, due):
        leg = self.leg("hours")
        agree("what the first interval is", (seconds(start), seconds(every)), (leg.since, leg.every))
        agree("first due", seconds(due), leg.first())

    @sentence(rf"First due: (?P<start>{D}) \+ (?P<span>{SPAN}){END} = (?P<due>{D})")
    def first_day(self, start, span, end, due):
        leg = self.leg("calendar")
        insist(leg.since, "a first due day without the day that its calendar counts from")
        leg.first()
        agree_day("first due", leg.due, start, span, end, due)

    @sentence(rf"Was due: (?P<due>{H}) h")
    def was_due_hours(self, due):
        self.leg("hours").due = seconds(due)

    @sentence(rf"Was due: (?P<due>{D})")
    def was_due_day(self, due):
        leg = self.leg("calendar")
        leg.due = DueDay(date.fromisoformat(due), Span(), leg.to_month_end)

    @sentence(
        rf"Done (?P<on>{D}) at (?P<at>{H}) h \({WHAT}\)(?:, due (?P<was>{H}) h)?"
        rf"(?: with a window of (?P<window>{H}) h either side)?: (?P<reason>[^:]+)\. "
        rf"Next due: (?P<base>{H}) h \+ (?:(?P<times>\d+) x )?(?P<every>{H}) h = (?P<due>{H}) h"
    )
    def done_at_hours(self, on, at, action, was, window, reason, base, times, every, due):
        leg, done = self.leg("hours"), seconds(at)
        was_due = leg.due
        leg.in_order(date.fromisoformat(on))
        agree("what was due when it was done", was and seconds(was), was_due)
        if window:
            agree("the window", seconds(window), leg.allowance(self.rule))
        right, intervals = leg.done(done, starts_afresh(action), self.rule)
        agree(f"why the next interval after {on} counts from there", reason, right)
        agree("whether the window is shown", window is not None, "side the window" in right)
        agree("what the next interval counts from", seconds(base), was_due if "was due" in right else done)
        agree("the intervals", (int(times or 1), seconds(every)), (intervals, leg.every))
        agree("next due", seconds(due), leg.due)

    @sentence(
        rf"Done (?P<on>{D}) \({WHAT}\)(?:, due (?P<was>{D}))?"
        rf"(?: with a window from (?P<first>{D}) to (?P<last>{D}))?: (?P<reason>[^:]+)\. "
        rf"Next due(?P<same>, from the same start)?: (?P<start>{D}) \+ (?P<span>{SPAN}){END} = (?P<due>{D})"
    )
    def done_on_day(self, on, action, was, first, last, reason, same, start, span, end, due):
        leg, done = self.leg("calendar"), date.fromisoformat(on)
        leg.in_order(done)
        agree("what was due when it was done", was and date.fromisoformat(was), leg.due and leg.due.day())
        if first:
            agree("the window", (date.fromisoformat(first), date.fromisoformat(last)), leg.window(self.rule))
        right, _ = leg.done(done, starts_afresh(action), self.rule)
        agree(f"why the next interval after {on} counts from there", reason, right)
        agree("whether the window is shown", first is not None, "side the window" in right)
        agree("`from the same start`", same is not None, "was due" in right)
        agree_day("next due", leg.due, start, span, end, due)

    @sentence(rf"Done (?P<on>{D}) \({WHAT}\), but the hours then are not on record")
    def done_unread(self, on, action):
        leg = self.leg("hours")
        leg.in_order(date.fromisoformat(on))
        leg.lose("the hours at that time are not on record")

    @sentence(rf"Latest: (?P<due>{H}) h \+ (?P<more>{H}) h = (?P<latest>{H}) h \((?P<by>[^()]+)\)")
    def latest_hours(self, due, more, latest, by):
        leg = self.leg("hours")
        agree("what the latest counts from", seconds(due), leg.due)
        agree("the permission past due", (by, seconds(more)), (self.rule.permission(), leg.allowance(self.rule)))
        agree("latest", seconds(latest), leg.due + seconds(more))
        leg.latest = seconds(latest)

    @sentence(rf"Latest: (?P<start>{D}) \+ (?P<span>{SPAN}){END} = (?P<latest>{D}) \((?P<by>[^()]+)\)")
    def latest_day(self, start, span, end, latest, by):
        leg, start, latest = self.leg("calendar"), date.fromisoformat(start), date.fromisoformat(latest)
        insist(leg.due is not None, "a latest day without a due day")
        insist(start in (leg.due.anchor, leg.due.day()), f"the latest counts from {start}, neither start nor due")
        agree("the sum of the latest", latest, DueDay(start, Span.read(span), end is not None).day())
        agree("the permission past due", by, self.rule.permission())
        leg.latest = latest

    @sentence(r"Not known by (?P<axis>hours|calendar): (?P<why>[^:]+)")
    def not_known(self, axis, why):
        leg = self.leg(axis)
        insist(leg.due is None, f"{axis} said not to be known, yet it was counted")
        leg.lose(why)

    @sentence(rf"First fitted (?P<fitted>{D}), not past (?P<due>{D}): the shelf life is over and done with")
    def shelf_kept(self, fitted, due):
        leg = self.leg("calendar")
        agree("the end of the shelf life", date.fromisoformat(due), leg.due.day())
        insist(fitted <= due, f"fitted {fitted}, past the shelf life that ended {due}")
        self.legs.remove(leg)

    # How each leg stands, which one governs, and how the line stands

    @sentence(rf"Hours left{LIMIT}: (?P<due>{H}) h - (?P<now>{H}) h = (?P<left>{H}) h")
    def hours_left(self, limit, due, now, left):
        leg = self.named("hours", limit, lambda leg: leg.due is not None and leg.left is None)
        agree("due and hours now", (seconds(due), seconds(now)), (leg.due, self.now))
        agree("hours left", seconds(left), leg.due - self.now)
        leg.left = seconds(left)

    @sentence(rf"Days left{LIMIT}: (?P<due>{D}) - (?P<as_of>{D}) = (?P<left>-?\d+) days")
    def days_left(self, limit, due, as_of, left):
        leg = self.named("calendar", limit, lambda leg: leg.due is not None and leg.left is None)
        agree("due and the day", (due, as_of), (str(leg.due.day()), str(self.as_of)))
        agree("days left", int(left), (leg.due.day() - self.as_of).days)
        leg.left = int(left)

    @sentence(rf"By (?P<axis>hours|calendar){LIMIT}: (?P<status>{'|'.join(STATUSES)}), because (?P<why>.+)")
    def leg_status(self, axis, limit, status, why):
        leg = self.named(axis, limit, lambda leg: leg.status is None)
        agree(f"how it stands by {axis}", (status, why), standing(self, leg, why))
        leg.status = status

    @sentence(r"Left of each interval: (?P<shares>.+)")
    def shares(self, shares):
        redone = [
            f"{in_hours(leg.left)} of {in_hours(leg.interval())} h"
            if leg.axis == "hours"
            else f"{leg.left} of {leg.interval()} days"
            for leg in told(self.legs)
        ]
        agree("left of each interval", shares, ", ".join(redone))
        self.shares_shown = True

    @sentence(r"Governs: (?P<which>hours|calendar|both)")
    def governing(self, which):
        agree("what governs", which, first_to_come(self.legs))
        self.governs = which

    @sentence(rf"Status: (?P<status>{'|'.join(STATUSES)})")
    def line_status(self, status):
        unsaid = [leg.axis for leg in self.legs if leg.status is None]
        insist(not unsaid, f"how it stands by {' and '.join(unsaid)} is not said")
        worst = min([leg.status for leg in self.legs], key=STATUSES.index, default="not due on record")
        agree("the status of the line", status, self.finding or worst)
        self.status = status


def starts_afresh(action):
    return action in ("renewed", "overhauled")


def agree_day(what, redone, start, span, end, day):
    """A printed `start + span = day`: the right start, the right span, and the sum."""
    printed = (date.fromisoformat(start), Span.read(span), end is not None)
    agree(f"the sum of {what}", printed, (redone.anchor, redone.span, redone.runs_to_month_end()))
    agree(what, date.fromisoformat(day), redone.day())
