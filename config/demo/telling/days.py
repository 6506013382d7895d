"""Days, months, quarters and tenths of an hour."""

from calendar import monthrange
from dataclasses import dataclass, replace
from datetime import date, timedelta


def month_end(day):
    """The last day of the day's month."""
    return day.replace(day=monthrange(day.year, day.month)[1])


def add_months(day, months):
    """The same day some months on; the month's last day where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    first = date(year, month + 1, 1)
    return first.replace(day=min(day.day, month_end(first).day))


@dataclass(frozen=True)
class DueDay:
    """A due day as it is counted: always from its anchor, so that a short month shortens no later one."""

    anchor: date
    months: int = 0
    days: int = 0
    to_month_end: bool = False

    def plus(self, interval):
        """An interval later."""
        months, days = self.months + interval.get("months", 0), self.days + interval.get("days", 0)
        return replace(self, months=months, days=days)

    @property
    def day(self):
        """The day itself."""
        end = add_months(self.anchor, self.months)
        return (month_end(end) if self.to_month_end else end) + timedelta(self.days)


def quarter_code(day):
    """The quarter of a day as parts are marked: 3Q19."""
    return f"{(day.month + 2) // 3}Q{day.year % 100:02}"


def quarter_start(code):
    """The first day that a quarter code can mean."""
    return date(2000 + int(code[2:]), int(code[0]) * 3 - 2, 1)


def quarter_end(first):
    """The last day of the quarter that begins on a day."""
    return add_months(first, 3) - timedelta(1)


def in_tenths(text):
    """Hours as written, in tenths: "41.2" is 412."""
    return int(text.replace(".", ""))


def hours(tenths):
    """Tenths of an hour as written: 412 is "41.2"."""
    return f"{tenths // 10}.{tenths % 10}"
