"""What every due line has to say, one line of tab-separated text each."""

from telling.days import hours
from telling.programme import UNKNOWN, belt_due, due, status

COLUMNS = ["owner", "serial", "asked-by", "item", "position", "status", "due-hours", "due-on", "hours-now"]
# What an open finding asks for.
FINDING_STATUS = {"monitor": "coming-due", "repair": "overdue", "ground": "overdue"}


def expected_lines(engines, programme, emails, as_of, later_days):
    """All lines on a day, the story told so many days later than it is written."""
    lines = [f"# How every due line of the invented fleet stands on {as_of}; `?` cannot be told, `-` is not counted."]
    lines.append("\t".join(COLUMNS))
    for engine in engines:
        for line in engine_lines(engine, programme, as_of, later_days):
            lines.append("\t".join([emails[engine.row["owner"]], engine.serial, *line]))
    return lines


def engine_lines(engine, programme, as_of, later_days):
    """The lines of one engine: the programme's items at each of their places, the belt, the finding."""
    record, belt = engine.record.moved_on(later_days), engine.belt.moved_on(later_days)
    for item in programme.items.values():
        figures = due(item, record)
        for position in item.positions or ["-"]:
            yield line("programme", item, position, figures, engine.hours, as_of)
    belt_hours = UNKNOWN if belt.hours_before is None else engine.hours - belt.hours_before
    yield line("programme", programme.belt, "-", belt_due(programme.belt, belt), belt_hours, as_of)
    if found := engine.found:
        asks = FINDING_STATUS[found["condition"]]
        yield ["finding", found["item"], found.get("position", "-"), asks, "-", "-", hours(engine.hours)]


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
