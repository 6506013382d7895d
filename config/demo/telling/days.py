"""Days, months, quarters and tenths of an hour."""

from calendar import monthrange
from datetime import date


def month_end(day):
    """The last day of the day's month."""
    return day.replace(day=monthrange(day.year, day.month)[1])


def add_months(day, months):
    """The same day some months on; the month's last day where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    first = date(year, month + 1, 1)
    return first.replace(day=min(day.day, month_end(first).day))


def quarter_code(day):
    """The quarter of a day as belts are marked: 3Q19."""
    return f"{(day.month + 2) // 3}Q{day.year % 100:02}"


def quarter_start(code):
    """The first day that a quarter code can mean."""
    return date(2000 + int(code[2:]), int(code[0]) * 3 - 2, 1)


def in_tenths(text):
    """Hours as written, in tenths: "41.2" is 412."""
    return int(text.replace(".", ""))


def hours(tenths):
    """Tenths of an hour as written: 412 is "41.2"."""
    return f"{tenths // 10}.{tenths % 10}"
