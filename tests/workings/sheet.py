"""The paper on which one working is redone: what was read so far, how it stands, and what governs."""

from dataclasses import dataclass, field
from datetime import date

from workings.asked import Asked
from workings.counting import Counting
from workings.legs import Rule
from workings.on_condition import OnCondition
from workings.rules import Rules
from workings.sentences import LIMIT, READERS, sentence
from workings.standing import STATUSES, first_to_come, line_standing, standing, told
from workings.sums import D, Disagreement, H, agree, in_hours, insist, seconds
from workings.wear import Wear


@dataclass
class Sheet(Rules, Counting, OnCondition, Asked, Wear):
    """One working, sentence after sentence."""

    as_of: date | None = None
    hours_said: bool = False
    now: int | None = None
    read_on: date | None = None
    source: str | None = None
    class_: str | None = None
    applies: bool = True
    rule: Rule = field(default_factory=Rule)
    legs: list = field(default_factory=list)
    next_leg: dict = field(default_factory=dict)
    over: list = field(default_factory=list)
    limits: int = 0
    life: list = field(default_factory=list)  # the legs of a life, once its inspections are counted
    life_over: list = field(default_factory=list)
    life_rule: Rule | None = None
    repeat: object = None
    inspections: list = field(default_factory=list)
    title: str | None = None
    asked: str | None = None  # how it stands by what asks for it, where that is no interval
    asked_on: date | None = None
    kinds: list = field(default_factory=list)
    happened_at: int | None = None
    answer_said: bool = False
    since_said: bool = False
    worn: list | None = None  # the readings of a measured limit, until their trend is told
    fleet: object = None  # what steadies them
    notices: dict = field(default_factory=dict)
    planned: str | None = None  # how it stands by the forecast of its hours
    shares_shown: bool = False
    governs: str = "none"
    status: str | None = None

    def read(self, text):
        insist(self.status is None, f"a sentence after the status: {text}")
        insist(self.as_of or text.startswith("As of "), f"a sentence before the day it is for: {text}")
        for pattern, method in READERS:
            if match := pattern.fullmatch(text.removesuffix(".")):
                return method(self, **match.groupdict())
        raise Disagreement(f"a sentence that cannot be redone: {text}")

    def leg(self, axis):
        """The leg that is being counted: the last one on that side, unless a sentence named another."""
        of_axis = [leg for leg in self.legs if leg.axis == axis]
        insist(of_axis, f"a step by {axis} before any limit by {axis}")
        return self.next_leg.get(axis) or of_axis[-1]

    def ended(self, leg):
        """Nothing more is counted there, nor how late the last work was."""
        self.legs.remove(leg)
        self.over.append(leg)

    def named(self, axis, limit, waiting):
        """The next leg of that side and limit that still waits for such a sentence."""
        found = [leg for leg in self.legs if (leg.axis, leg.limit) == (axis, limit or "") and waiting(leg)]
        insist(found, f"one sentence too many by {axis} {limit or ''}".rstrip())
        return found[0]

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
        leg = self.named(axis, limit, lambda leg: leg.counted() and leg.status is None)
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

    @sentence(
        rf"By forecast: coming due, because one time in ten the hours are used up by (?P<by>{D}), "
        rf"and (?P<again>{D}) - (?P<as_of>{D}) = (?P<left>-?\d+) days is not more than 30 days"
    )
    def plan(self, by, again, as_of, left):
        """An estimate cannot be redone from its working; what follows from it can."""
        insist(any(leg.axis == "hours" and (leg.left or 0) > 0 for leg in self.legs), "a forecast without hours left")
        agree("the day to plan by, and the day", (again, as_of), (by, str(self.as_of)))
        days = (date.fromisoformat(by) - self.as_of).days
        agree("days until the day to plan by", int(left), days)
        insist(days <= 30, f"{days} days are more than 30")
        self.planned = "coming due"

    @sentence(rf"Status: (?P<status>{'|'.join(STATUSES)})")
    def line_status(self, status):
        unsaid = [leg.axis for leg in self.legs if leg.counted() and leg.status is None]
        insist(not unsaid, f"how it stands by {' and '.join(unsaid)} is not said")
        agree("the status of the line", status, line_standing(self))
        self.status = status
