"""The sentences that count one limit after another: where it begins, what was done, what is due next."""

import re
from datetime import date

from workings.legs import CalendarLeg, HoursLeg
from workings.sentences import END, LENGTH, WHAT, sentence
from workings.sums import SPAN, D, DueDay, H, Span, agree, insist, seconds, shift

INTERVAL = rf"(?:{H} h|{LENGTH})"
INTERVALS = rf"{{0}} {INTERVAL}(?: or {{0}} {INTERVAL})*(?:, whichever comes first)?"
UNKNOWN_APPLIES = "the records do not say whether this applies"


class Intervals:
    """What one part of a limit counts: hours, months and days, each if it is given."""

    def __init__(self, text, word):
        text = text or ""
        parts = [part for part in text.removesuffix(", whichever comes first").split(" or ") if part]
        agree("`whichever comes first`", text.endswith(", whichever comes first"), len(parts) > 1)
        self.hours, self.months, self.days, self.to_month_end = None, None, None, False
        for part in parts:
            part = part.removeprefix(f"{word} ")
            if part.endswith(" h"):
                self.hours = seconds(part.removesuffix(" h"))
                continue
            self.to_month_end |= part.endswith(", to the end of the month")
            span = Span.read(part.removesuffix(", to the end of the month"))
            setattr(self, "months" if span.months else "days", span)


class Counting:
    """Takes in the steps of a count."""

    @sentence(
        rf"Limit(?: (?P<name>[^:]+))?: (?:once at (?P<steps>{H} h(?:, {H} h)*))?(?:; then )?"
        rf"(?P<first>{INTERVALS.format('within')})?(?:; then )?(?P<every>{INTERVALS.format('every')})?"
    )
    def limit(self, name, steps, first, every):
        self.ready()
        insist(steps or first or every, "a limit of nothing")
        self.limits += 1
        repeat = Intervals(every, "every")
        begin = Intervals(first, "within") if first else repeat
        steps = [seconds(step.removesuffix(" h")) for step in steps.split(", ")] if steps else []
        insist(steps == sorted(set(steps)), "steps that do not rise")
        if steps or begin.hours is not None or repeat.hours is not None:
            self.legs.append(HoursLeg(name or "", repeat.hours, begin.hours, steps, number=self.limits))
        self.next_leg = {}
        end = begin.to_month_end or repeat.to_month_end
        for axis in ("months", "days"):
            pace = getattr(repeat, axis), getattr(begin, axis)
            if pace != (None, None):
                self.legs.append(CalendarLeg(name or "", *pace, to_month_end=end, number=self.limits))

    def ready(self):
        known = self.hours_said and self.class_ and self.rule.policy and self.rule.past_due
        insist(known, "a count before the hours, the class and the rule it is counted by")

    @sentence(rf"By itself: (?P<span>{SPAN})")
    def by_itself(self, span):
        """Which of two calendar legs of the limit is counted next."""
        span = Span.read(span)
        legs = [leg for leg in self.legs if leg.axis == "calendar" and span in (leg.every, leg.first)]
        insist(legs, f"no leg of {span}")
        self.next_leg["calendar"] = legs[-1]

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
        agree("what the first interval is", (seconds(start), seconds(every)), (leg.since, leg.first))
        agree("first due", seconds(due), leg.first_due())

    @sentence(rf"First due: (?P<start>{D}) \+ (?P<span>{SPAN}){END} = (?P<due>{D})")
    def first_day(self, start, span, end, due):
        leg = self.leg("calendar")
        insist(leg.since and leg.first, "a first due day without the day or the interval it counts from")
        leg.first_due()
        agree_day("first due", leg.due, start, span, end, due)

    @sentence(rf"First step: (?P<start>{H}) h \+ (?P<step>{H}) h = (?P<due>{H}) h")
    def first_step(self, start, step, due):
        leg = self.leg("hours")
        insist(leg.steps, "a step of a limit that has none")
        agree("what the first step counts from", seconds(start), leg.since)
        leg.next_step()
        agree("the first step", (seconds(step), seconds(due)), (leg.span, leg.due))

    @sentence(
        rf"Done (?P<on>{D}) at (?P<at>{H}) h \({WHAT}\), due (?P<was>{H}) h: closes "
        r"(?P<closes>every step it has reached|the next step, a little early)\. "
        rf"(?:(?P<none>No step is left)|Next step: (?P<start>{H}) h \+ (?P<step>{H}) h = (?P<due>{H}) h)"
    )
    def done_steps(self, on, at, action, was, closes, none, start, step, due):
        leg = self.leg("hours")
        insist(leg.steps and leg.due is not None, "a step done of a limit that has none left")
        leg.in_order(date.fromisoformat(on))
        agree("the step that was due", seconds(was), leg.due)
        reached = leg.close_steps(seconds(at), self.rule)
        agree("what it closes", closes.startswith("every"), reached)
        agree("whether no step is left", none is not None, not leg.steps)
        if none is None:
            printed = seconds(start), seconds(step), seconds(due)
            agree("the next step", printed, (leg.since, leg.span, leg.due))
        elif leg.every is None:
            self.ended(leg)

    @sentence(rf"Done (?P<on>{D}) \({WHAT}\): the first interval is over, and nothing repeats by (?P<axis>hours|calendar)")
    def first_over(self, on, action, axis):
        leg = self.leg(axis)
        insist(leg.every is None and leg.first is not None, f"{axis} said to be over, yet it repeats")
        insist(leg.counted() or leg.since is None, f"{axis} said to be over before it was counted")
        leg.in_order(date.fromisoformat(on))
        leg.due = leg.missing = None
        self.ended(leg)

    @sentence(rf"Was due: (?P<due>{H}) h")
    def was_due_hours(self, due):
        leg = self.leg("hours")
        leg.due, leg.span = seconds(due), leg.every

    @sentence(rf"Was due: (?P<due>{D})")
    def was_due_day(self, due):
        for leg in self.legs:
            if leg.axis == "calendar":
                leg.due, leg.span = DueDay(date.fromisoformat(due), Span(), leg.to_month_end), leg.every
                leg.since = shift(leg.due.day(), -leg.every.months, -leg.every.days)

    @sentence(
        rf"Done (?:(?P<on>{D}) )?at (?P<at>{H}) h \({WHAT}\)(?:, due (?P<was>{H}) h)?"
        rf"(?: with a window of (?P<window>{H}) h either side)?: (?P<reason>[^:]+)\. "
        rf"Next due: (?P<base>{H}) h \+ (?:(?P<times>\d+) x )?(?P<every>{H}) h = (?P<due>{H}) h"
    )
    def done_at_hours(self, on, at, action, was, window, reason, base, times, every, due):
        leg, done = self.leg("hours"), seconds(at)
        was_due = leg.due
        if on:
            leg.in_order(date.fromisoformat(on), done)
        agree("what was due when it was done", was and seconds(was), was_due)
        if window:
            agree("the window", seconds(window), leg.window(self.rule)[1] - was_due)
        right, intervals = leg.done(done, starts_afresh(action), self.rule)
        agree(f"why the next interval after {on or at} counts from there", reason, right)
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

    @sentence(rf"Done(?: (?P<on>{D}))? \({WHAT}\), but the hours then are not on record")
    def done_unread(self, on, action):
        leg = self.leg("hours")
        if on:
            leg.in_order(date.fromisoformat(on))
        if not leg.steps:
            leg.lose("the hours at that time are not on record")

    @sentence(rf"Latest: (?P<due>{H}) h \+ (?P<more>{H}) h = (?P<latest>{H}) h \((?P<by>[^()]+)\)")
    def latest_hours(self, due, more, latest, by):
        leg = self.leg("hours")
        agree("what the latest counts from", seconds(due), leg.bound if leg.due is None else leg.due)
        agree("the permission past due", (by, seconds(more)), (self.rule.permission(), leg.allowance(self.rule)))
        agree("latest", seconds(latest), seconds(due) + seconds(more))
        leg.latest = seconds(latest)

    @sentence(rf"Latest: (?P<start>{D}) \+ (?P<span>{SPAN}){END} = (?P<latest>{D}) \((?P<by>[^()]+)\)")
    def latest_day(self, start, span, end, latest, by):
        leg, start, latest = self.leg("calendar"), date.fromisoformat(start), date.fromisoformat(latest)
        due = leg.bound if leg.due is None else leg.due
        insist(due is not None, "a latest day without a due day")
        insist(start in (due.anchor, due.day()), f"the latest counts from {start}, neither start nor due")
        agree("the sum of the latest", latest, DueDay(start, Span.read(span), end is not None).day())
        agree("the permission past due", by, self.rule.permission())
        leg.latest = latest

    @sentence(r"Not known by (?P<axis>hours|calendar): (?P<why>[^:]+)")
    def not_known(self, axis, why):
        if why == UNKNOWN_APPLIES:
            self.ready()
            insist(not self.applies and not self.legs, "it is on record whether this applies")
            self.legs.append(HoursLeg("", None))
        leg = self.leg(axis)
        insist(leg.due is None, f"{axis} said not to be known, yet it was counted")
        leg.lose(why)

    @sentence(
        rf"No later than: (?P<start>{H}) h \+ (?P<every>{H}) h = (?P<due>{H}) h, "
        rf"because (?:the records begin at (?P<begin>{H}) h|by the estimate of (?P<hours>{H}) h accepted {D} "
        rf"at (?P<at>{H}) h \(record [^()]+\) it was new at (?P<then>{H}) h - (?P<less>{H}) h = (?P<new>{H}) h) "
        r"and it was not done since"
    )
    def no_later_hours(self, start, every, due, begin, hours, at, then, less, new):
        leg = self.leg("hours")
        insist(leg.missing, "a bound on what is known")
        agree("where the bound begins", start, begin or new)
        if new:
            agree("the estimate", (then, less), (at, hours))
            agree("when it was new", seconds(new), seconds(at) - seconds(hours))
            insist(seconds(new) < 0, "an estimate of less than these records count")
        agree("the interval of the bound", seconds(every), leg.longest())
        agree("the bound", seconds(due), seconds(start) + seconds(every))
        insist(leg.last_done == date.min, "a bound on what was done since the records begin")
        leg.span, leg.bound = seconds(every), seconds(due)

    @sentence(
        rf"No later than: (?P<start>{D}) \+ (?P<span>{SPAN}){END} = (?P<due>{D}), "
        rf"because the records begin (?P<begin>{D}) and it was not done since"
    )
    def no_later_day(self, start, span, end, due, begin):
        leg = self.leg("calendar")
        insist(leg.missing, "a bound on what is known")
        agree("where the bound begins", start, begin)
        insist(leg.last_done == date.min, "a bound on what was done since the records begin")
        leg.span = leg.longest()
        leg.bound = leg.begin(date.fromisoformat(begin), leg.span)
        agree_day("the bound", leg.bound, start, span, end, due)

    @sentence(
        rf"Permission by (?P<axis>hours|calendar): record [^,]+, given (?P<on>{D})"
        rf"(?: at (?P<at>{H}) h)?, not after due (?P<due>{D}|{H} h)(?:, until (?P<until>{D}))?"
    )
    def permission(self, axis, on, at, due, until):
        leg, on = self.permission_for(axis, due), date.fromisoformat(on)
        before = seconds(at) <= leg.due if axis == "hours" else on <= leg.due.day()
        insist(before, f"a permission of {on} after due {due}")
        insist(leg.last_done < on, f"a permission of {on} that the work of {leg.last_done} used up")
        leg.permitted, leg.permitted_until = True, until and date.fromisoformat(until)

    @sentence(
        rf"Permission by (?P<axis>hours|calendar): none on record that was given before due (?P<due>{D}|{H} h)"
    )
    def no_permission(self, axis, due):
        self.permission_for(axis, due).permitted = False

    def permission_for(self, axis, due):
        leg = self.leg(axis)
        insist(self.rule.needs_permission, "a permission that the rule does not ask for")
        insist(leg.due is not None, "a permission for what cannot be told")
        agree("what it is a permission for", due, leg.write(leg.point(leg.due)))
        return leg

    @sentence(rf"First fitted (?P<fitted>{D}), not past (?P<due>{D}): the shelf life is over and done with")
    def shelf_kept(self, fitted, due):
        leg = self.leg("calendar")
        agree("the end of the shelf life", date.fromisoformat(due), leg.due.day())
        insist(fitted <= due, f"fitted {fitted}, past the shelf life that ended {due}")
        self.legs.remove(leg)


def starts_afresh(action):
    return action in ("renewed", "overhauled")


def agree_day(what, redone, start, span, end, day):
    """A printed `start + span = day`: the right start, the right span, and the sum."""
    printed = (date.fromisoformat(start), Span.read(span), end is not None)
    agree(f"the sum of {what}", printed, (redone.anchor, redone.span, redone.runs_to_month_end()))
    agree(what, date.fromisoformat(day), redone.day())
