"""The sentences of lines that no interval asks for: findings and their recheck, events, preservations."""

from datetime import date

from workings.legs import CalendarLeg, HoursLeg
from workings.sentences import sentence
from workings.sums import D, DueDay, H, Span, agree, insist, seconds

RECORD = r"record [^()]+"


class Asked:
    """Takes in what happened or was found."""

    @sentence(
        rf"(?P<title>.+: (?:to be (?:repaired|renewed|scrapped)|look again)) "
        rf"\({RECORD}, (?P<source>found (?:on this part )?at the inspection released (?P<day>{D}))\); "
        rf"no later work there answers it"
    )
    def open_finding(self, title, source, day):
        self.title, self.source, self.asked_on = title, source, date.fromisoformat(day)
        standing = "coming due" if title.endswith(": look again") else "overdue"
        self.asked = standing if self.asked_on <= self.as_of else "not due on record"

    @sentence(rf"Look again (?:within (?P<hours>{H}) h)?(?: or )?(?:by (?P<day>{D}))?(?P<both>, whichever comes first)?")
    def look_again(self, hours, day, both):
        insist(self.title and self.title.endswith(": look again"), "a recheck of what is not to be watched")
        insist(self.hours_said, "a recheck before the hours")
        agree("`whichever comes first`", both is not None, None not in (hours, day))
        if hours:
            self.legs.append(HoursLeg("", None, seconds(hours)))
        if day:
            self.by_day(date.fromisoformat(day))

    def by_day(self, day):
        due = DueDay(day, Span(), to_month_end=False)
        self.legs.append(CalendarLeg("", None, since=self.asked_on, due=due, span=Span()))

    @sentence(rf"Found at (?P<at>{H}) h: (?P<start>{H}) h \+ (?P<more>{H}) h = (?P<due>{H}) h")
    def found_at(self, at, start, more, due):
        leg = self.leg("hours")
        agree("what the recheck counts from", start, at)
        agree("how long until the recheck", seconds(more), leg.first)
        leg.since = seconds(at)
        agree("the recheck", seconds(due), leg.first_due())

    @sentence(rf"Preserved (?P<on>{D}) \({RECORD}\), good until (?P<until>{D}); not back in use since")
    def preserved(self, on, until):
        self.asked, self.asked_on = "not due on record", date.fromisoformat(on)
        self.source = f"preserved on {on}"
        self.by_day(date.fromisoformat(until))

    @sentence(r"Due at once after: (?P<kinds>.+)")
    def due_after(self, kinds):
        insist(self.hours_said and self.class_, "an event before the hours and the class")
        self.kinds = kinds.split(", ")

    @sentence(rf"Happened (?P<on>{D})(?: at (?P<at>{H}) h)?: (?P<kind>[^()]+) \({RECORD}\)")
    def happened(self, on, at, kind):
        insist(kind in self.kinds, f"{kind} is none of what it is due after")
        self.asked_on, self.happened_at = date.fromisoformat(on), at and seconds(at)
        self.asked = "overdue" if self.asked_on <= self.as_of else "not due on record"

    @sentence(r"Never done on record")
    def never_done(self):
        insist(self.asked_on, "never done, but nothing happened")
        self.answer_said = True

    @sentence(rf"Last done (?P<on>{D}) \([a-z]+, {RECORD}\), before it happened")
    def last_done(self, on):
        insist(self.asked_on, "last done, but nothing happened")
        insist(date.fromisoformat(on) <= self.asked_on, f"done {on}, after it happened on {self.asked_on}")
        self.answer_said = True

    @sentence(rf"Hours since: (?P<now>{H}) h - (?P<then>{H}) h = (?P<since>{H}) h")
    def hours_since(self, now, then, since):
        agree("hours now and then", (seconds(now), seconds(then)), (self.now, self.happened_at))
        agree("hours since", seconds(since), self.now - self.happened_at)
        self.since_said = True
