"""What every due line has to say, one line of tab-separated text each."""

from dataclasses import dataclass
from datetime import date, timedelta

from telling import measured
from telling.applies import applies
from telling.count import LOST, Figures, Leg, figures, inspections
from telling.days import hours, in_tenths
from telling.flying import Flying
from telling.parts import unregistered
from telling.programme import NOTICE_DAYS, NOTICE_HOURS, UNKNOWN
from telling.standing import WITH_TOLERANCE, stage, status, worst

COLUMNS = ["owner", "serial", "asked-by", "item", "position", "status", "due-hours", "due-on", "hours-now", "plan-by"]
# The figures of an item of which nobody can tell whether it is for this engine, and of a part not on record.
NOBODY_KNOWS = Figures([LOST], [])
# What has no notice of its own is coming due so long before.
HOURS_BEFORE, DAYS_BEFORE = NOTICE_HOURS * 10, timedelta(NOTICE_DAYS)
# So long before the day to plan by, whatever the notice.
PLAN_BEFORE = timedelta(30)


@dataclass
class Grant:
    """A permission, with the hours of the line it is for when it was given."""

    on: date
    hours: int
    until: date | None


def expected_lines(engines, emails, meters, as_of, later_days):
    """All lines on a day, the story told so many days later than it is written."""
    lines = [f"# How every due line of the invented fleet stands on {as_of}; `?` cannot be told, `-` is not counted."]
    lines.append("\t".join(COLUMNS))
    for engine in engines:
        for line in Lines(engine, meters, as_of, later_days).all():
            lines.append("\t".join([emails[engine.row["owner"]], engine.serial, *line]))
    return lines


class Lines:
    """The lines of one engine."""

    def __init__(self, engine, meters, as_of, later_days):
        self.engine, self.as_of, self.programme = engine, as_of, engine.programme
        self.record = engine.record.moved_on(later_days)
        self.parts = {at: part.moved_on(later_days) for at, part in engine.parts.items()}
        self.flying = flying(engine, meters, timedelta(later_days))

    def all(self):
        """The programme's, those after an event, a preservation, a finding."""
        for item in self.programme.items.values():
            yield from self.of_item(item)
        for item in self.programme.parts.values():
            yield from self.of_part(item)
        for item in self.programme.after.values():
            yield from self.after(item)
        yield from self.preservation()
        yield from self.finding()

    def of_item(self, item):
        """An item of the engine itself, at each of its places."""
        answer = applies(item, self.engine)
        if answer is False or self.ended(item):
            return
        count = self.engine.count(self.record)
        told = figures(item, count) if answer is True else NOBODY_KNOWS
        for position in item.positions or ["-"]:
            yield self.line(item, position, self.with_trend(item, position, told), count)
            if item.on_condition:
                yield self.on_condition(item, position, inspections(item, told, count), count)

    def with_trend(self, item, position, told):
        """Figures with what was measured at a place looked at too."""
        limit = self.programme.limits.get(measured.QUANTITY)
        return Figures(told.by_hours + measured.legs(item, position, self.record, limit), told.by_day)

    def on_condition(self, item, position, told, count):
        """The inspection that lets an item run on past its extension, with the usual notice."""
        stages = [by_hours(leg, count.hours) for leg in told.by_hours]
        stages += [by_day(leg, self.as_of) for leg in told.by_day]
        by = self.plan_by([leg.due for leg in told.by_hours], count.hours)
        standing = self.looked_ahead(worst(stages, WITH_TOLERANCE), by)
        figures_of = [written(told.hours), written(told.day), written(count.hours), written(by)]
        return ["on-condition", item.id, position, standing, *figures_of]

    def plan_by(self, dues, run):
        """The day by which the hours of a line may be used up, one time in ten."""
        dues = [due for due in dues if due not in (None, UNKNOWN)]
        if self.flying is None or run == UNKNOWN or not dues or min(dues) <= run:
            return None
        return self.flying.plan_by(min(dues) - run)

    def looked_ahead(self, standing, by):
        """How a line stands once the day to plan by is looked at too."""
        soon = by is not None and by - PLAN_BEFORE <= self.as_of
        return "coming-due" if soon and standing == "not-due" else standing

    def ended(self, item):
        """Whether work has ended an item for good."""
        done = self.record.done.get(item.id, [])
        return any(once.action in item.until and once.on > self.record.restarted for once in done)

    def of_part(self, item):
        """An item of the parts of a kind; where none is registered, of the last one that was fitted there."""
        for position in item.positions or [None]:
            found = [part for part in self.parts.values() if part.kind == item.component]
            found = [part for part in found if position in (None, part.place)]
            for part in found:
                answer = applies(item, self.engine, part)
                if answer is False:
                    continue
                count = part.count(self.engine, self.record)
                told = figures(item, count, part.first_fitted) if answer is True else NOBODY_KNOWS
                yield self.line(item, position or "-", told, count)
            if not found:
                count = unregistered(self.engine, item, self.record)
                yield self.line(item, position or "-", figures(item, count), count)

    def line(self, item, position, told, count):
        """One line's columns after the serial."""
        standing = status(item, told, count, self.grants(item, count), self.as_of)
        by = self.plan_by([leg.due for leg in told.by_hours], count.hours)
        standing = self.looked_ahead(standing, by)
        figures_of = [written(told.hours), written(told.day), written(count.hours), written(by)]
        return ["programme", item.id, position, standing, *figures_of]

    def grants(self, item, count):
        """The permissions given since an item was last done."""
        last = max((once.on for once in count.done(item, None)), default=date.min)
        given = [grant for grant in self.record.concessions if grant.item == item.id and grant.on > last]
        # What a part has run since it lay between the engine and its count is the same then as now.
        behind = None if count.hours == UNKNOWN else self.engine.hours - count.hours
        known = [(grant, self.record.hours_at(grant.on)) for grant in given]
        return [Grant(grant.on, then - behind, grant.until) for grant, then in known if UNKNOWN not in (then, behind)]

    def after(self, item):
        """What is due at once because of something that happened; what it asks of a part goes with the part."""
        for position in item.positions or [None]:
            found = [part for part in self.parts.values() if part.kind == item.component]
            for part in found or [None]:
                if self.happened(item, part):
                    run = part.hours_of(self.engine.hours, self.engine.flown) if part else self.engine.hours
                    run = UNKNOWN if item.component and part is None else run
                    yield ["event", item.id, position or "-", "overdue", "-", "-", written(run), "-"]

    def happened(self, item, part):
        """Whether something happened that an item asks about, and no work after it has answered."""
        since = max(self.record.restarted, part.fitted if part else date.min)
        answers = [once.on for once in self.record.done.get(item.id, [])]
        if part and part.overhauled and not part.papers and "overhauled" in item.done_by:
            answers.append(part.overhauled.on)
        answered = max(answers, default=date.min)
        asked = [event.on for event in self.record.events if event.kind in item.after and event.on >= since]
        return any(on > answered for on in asked)

    def preservation(self):
        """How long a preservation is still good."""
        if until := self.record.preserved_until:
            standing = worst([stage(Leg(until, until), self.as_of, DAYS_BEFORE, True)], WITH_TOLERANCE)
            yield ["preservation", "preservation", "-", standing, "-", str(until), written(self.engine.hours), "-"]

    def finding(self):
        """An open finding: to be put right at once, or to be looked at again by its recheck."""
        if not (found := self.record.found):
            return
        due_hours, due_day, stages = None, found.recheck.get("on"), [1 if found.condition == "monitor" else 3]
        if "hours" in found.recheck:
            due_hours = found.hours + in_tenths(found.recheck["hours"])
            stages.append(stage(Leg(due_hours, due_hours), self.engine.hours, HOURS_BEFORE, True))
        if due_day:
            stages.append(stage(Leg(due_day, due_day), self.as_of, DAYS_BEFORE, True))
        by = self.plan_by([due_hours], self.engine.hours)
        standing = self.looked_ahead(worst(stages, WITH_TOLERANCE), by)
        figures_of = [written(due_hours), written(due_day), written(self.engine.hours), written(by)]
        yield ["finding", found.item, found.position, standing, *figures_of]


def flying(engine, meters, later):
    """How the aircraft of an engine flies; `None` where nothing can be said."""
    aircraft = meters.where.get(engine.id)
    if aircraft is None or aircraft in meters.lost or engine.hours == UNKNOWN:
        return None
    readings = {on + later: hours for on, hours in meters.run[aircraft].items()}
    return Flying(readings, *meters.told[aircraft])


def by_hours(leg, run):
    """How far something without a tolerance has come by hours, with the usual notice."""
    return UNKNOWN if UNKNOWN in (leg.due, run) else stage(leg, run, HOURS_BEFORE, True)


def by_day(leg, as_of):
    """The same by the calendar."""
    return UNKNOWN if leg.due == UNKNOWN else stage(leg, as_of, DAYS_BEFORE, True)


def written(value):
    """A figure as it is written: hours in tenths, a day, or why there is none."""
    if value is None:
        return "-"
    return hours(value) if isinstance(value, int) else str(value)
