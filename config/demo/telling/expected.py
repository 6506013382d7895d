"""What every due line has to say, one line of tab-separated text each."""

from datetime import date

from telling.applies import applies
from telling.days import hours
from telling.programme import UNKNOWN, belt_due, due, ended, happened, status

COLUMNS = ["owner", "serial", "asked-by", "item", "position", "status", "due-hours", "due-on", "hours-now"]
# What an open finding asks for.
FINDING_STATUS = {"monitor": "coming-due", "repair": "overdue", "ground": "overdue"}
# The figures of an item of which nobody can tell whether it is for this engine.
NOBODY_KNOWS = UNKNOWN, None


def expected_lines(engines, programme, emails, as_of, later_days):
    """All lines on a day, the story told so many days later than it is written."""
    lines = [f"# How every due line of the invented fleet stands on {as_of}; `?` cannot be told, `-` is not counted."]
    lines.append("\t".join(COLUMNS))
    for engine in engines:
        for line in engine_lines(engine, programme, as_of, later_days):
            lines.append("\t".join([emails[engine.row["owner"]], engine.serial, *line]))
    return lines


def engine_lines(engine, programme, as_of, later_days):
    """The lines of one engine: the programme's, the belt's, those after an event, the finding."""
    record, belt = engine.record.moved_on(later_days), engine.belt.moved_on(later_days)
    yield from programme_lines(engine, programme, record, as_of)
    yield from belt_lines(engine, programme, belt, as_of)
    yield from event_lines(engine, programme, record, later_days)
    if found := engine.found:
        asks = FINDING_STATUS[found["condition"]]
        yield ["finding", found["item"], found.get("position", "-"), asks, "-", "-", hours(engine.hours)]


def programme_lines(engine, programme, record, as_of):
    """The programme's items at each of their places, as far as they are for this engine."""
    for item in programme.items.values():
        answer = applies(item, engine)
        if answer is False or ended(item, record):
            continue
        figures = due(item, record) if answer is True else NOBODY_KNOWS
        for position in item.positions or ["-"]:
            yield line("programme", item, position, figures, engine.hours, as_of)


def belt_lines(engine, programme, belt, as_of):
    """The belt's own life, and the bulletin if it is for this belt."""
    belt_hours = UNKNOWN if belt.hours_before is None else engine.hours - belt.hours_before
    yield line("programme", programme.belt, "-", belt_due(programme.belt, belt), belt_hours, as_of)
    bulletin = programme.belt_bulletin
    answer = applies(bulletin, engine)
    if answer is not False:
        figures = (None, bulletin.day_after(bulletin.effective)) if answer is True else NOBODY_KNOWS
        yield line("programme", bulletin, "-", figures, belt_hours, as_of)


def event_lines(engine, programme, record, later_days):
    """What is due at once because of something that happened; what it asks of a part goes with the part."""
    for item in programme.after.values():
        part = engine.parts.get(item.component)
        since = part.moved_on(later_days).fitted if part else date.min
        if not happened(item, record, since):
            continue
        known = item.component is None or part and part.hours_before is not None
        run = engine.hours - (part.hours_before if part else 0) if known else UNKNOWN
        for position in item.positions or ["-"]:
            yield ["event", item.id, position, "overdue", "-", "-", written(run)]


def line(asked_by, item, position, figures, hours_now, as_of):
    """One line's columns after the serial."""
    due_hours, due_day = figures
    standing = status(item, due_hours, due_day, hours_now, as_of)
    columns = [written(due_hours), written(due_day), written(hours_now)]
    return [asked_by, item.id, position, standing, *columns]


def written(value):
    """A figure as it is written: hours in tenths, a day, or why there is none."""
    if value is None:
        return "-"
    return hours(value) if isinstance(value, int) else str(value)
