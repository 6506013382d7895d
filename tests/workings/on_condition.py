"""The sentences of running on condition: the inspections that go on where a life and its extension end."""

from copy import copy
from datetime import date

from workings.counting import INTERVALS, Intervals
from workings.legs import CalendarLeg, HoursLeg, Rule
from workings.sentences import sentence
from workings.sums import D, DueDay, H, Span, agree, insist, seconds


class OnCondition:
    """Takes the life that was counted as it is, and counts its inspections from there."""

    @sentence(
        rf"On condition when the extension ends: inspected by then, and again (?P<every>{INTERVALS.format('every')}); "
        r"always counted from done, overdue at once"
    )
    def on_condition(self, every):
        insist(self.rule.extension is not None and self.repeat is None, "on condition without one extension before it")
        self.life, self.life_over, self.life_rule = self.legs, self.over, self.rule
        self.repeat = Intervals(every, "every")
        self.rule = Rule(policy="from-done", past_due="overdue at once")
        self.legs = [self.first_inspection(leg) for leg in self.life if leg.counted()]
        self.over, self.next_leg = [], {}

    def first_inspection(self, life):
        """Due when the extension of one leg of the life ends, or no later than that if it is known no better."""
        leg, counted = copy(life), copy(life)
        leg.steps, leg.first, leg.latest, leg.overrun, leg.beyond = [], None, None, 0, False
        counted.due = life.bound if life.due is None else life.due
        if counted.due is None:
            return leg
        end = counted.furthest(self.life_rule)
        if leg.axis == "hours":
            leg.span = end - counted.due + life.span
        end = as_due(leg.axis, end)
        leg.due, leg.bound = (None, end) if life.due is None else (end, None)
        return leg

    @sentence(
        rf"Inspected (?P<on>{D})(?: at (?P<at>{H}) h)? \(record [^()]+\): "
        r"the life had (?:run out, so it counts|(?P<early>not run out on record, so it does not count))"
    )
    def inspected(self, on, at, early):
        insist(self.repeat, "an inspection that nothing asks for")
        done = {"hours": at and seconds(at), "calendar": date.fromisoformat(on)}
        run_out = any(had_run_out(leg, done[leg.axis]) for leg in self.life)
        agree(f"whether the life had run out on {on}", early is None, run_out)
        if run_out and not self.inspections:
            self.begin_repeats()
        if run_out:
            self.inspections.append(done)

    def begin_repeats(self):
        """After the first inspection each side of the repeat counts, and what was due is the earliest end."""

        def earliest(axis):
            ends = [leg.point(leg.due) for leg in self.legs if leg.axis == axis and leg.due is not None]
            return as_due(axis, min(ends, default=None))

        hours, spans = self.repeat.hours, [self.repeat.months, self.repeat.days]
        sides = [] if hours is None else [HoursLeg("", hours, due=earliest("hours"))]
        self.legs = sides + [CalendarLeg("", span, due=earliest("calendar")) for span in spans if span]

    def every_inspection_counted(self):
        """Each that counts is done on every side that repeats, in order and at the hours that were said."""
        for leg in self.legs if self.inspections else []:
            said = [(it["calendar"], it["hours"] if leg.axis == "hours" else None) for it in self.inspections]
            agree(f"the inspections by {leg.axis}", leg.done_at, said)


def had_run_out(leg, done):
    """Whether a leg of a life was due, for certain, when something was done."""
    due = leg.bound if leg.due is None else leg.due
    return None not in (due, done) and done >= leg.point(due)


def as_due(axis, end):
    """The end of an extension as what is due, with nothing to count it from any more."""
    return DueDay(end, Span(), to_month_end=False) if end and axis == "calendar" else end
