"""Sums as they are done on paper: hours in whole seconds, and the calendar from its first anchor."""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import MAXYEAR, date, timedelta

# How hours, days and calendar time are written.
H = r"-?\d+(?:\.\d|:\d\d(?::\d\d)?)"
D = r"\d{4}-\d\d-\d\d"
SPAN = r"(?:\d+ months?(?: \d+ days?)?|\d+ days?)"


class Disagreement(Exception):
    """A printed figure or reason that does not come out when it is done again."""


def agree(what, printed, redone):
    if printed != redone:
        raise Disagreement(f"{what}: printed {show(printed)}, redone {show(redone)}")


def insist(holds, what):
    if not holds:
        raise Disagreement(what)


def show(value):
    return str(value) if isinstance(value, date) else repr(value)


# --- Hours: whole seconds, so that tenths and minutes are both exact ---------------------------------------


def seconds(text):
    """1043.2, 1043:12 and 1043:12:05 as seconds; a leading minus is allowed."""
    digits = text.removeprefix("-")
    whole, _, tenth = digits.partition(".")
    if ":" in digits:
        hours, minutes, *rest = (int(part) for part in digits.split(":"))
        size = hours * 3600 + minutes * 60 + sum(rest)
    else:
        size = int(whole) * 3600 + int(tenth or 0) * 360
    return -size if text.startswith("-") else size


def tenths(count):
    return f"{'-' if count < 0 else ''}{abs(count) // 10}.{abs(count) % 10}"


def tenths_down(span):
    return tenths(span // 360)


def tenths_up(span):
    return tenths(-(-span // 360))


def in_hours(span):
    """The exact value in the shortest form that loses nothing: tenths, else h:mm, else h:mm:ss."""
    if span % 360 == 0:
        return tenths(span // 360)
    minutes, rest = divmod(abs(span), 60)
    text = f"{'-' if span < 0 else ''}{minutes // 60}:{minutes % 60:02}"
    return f"{text}:{rest:02}" if rest else text


def add_up(text):
    """The sum of `312.4 [stated] + (540.0 - 500.0) [meter]`: every piece says where it is from."""
    piece = rf"(?:\({H} - {H}\)|{H}) \[[^\]]+\]"
    insist(re.fullmatch(rf"{piece}(?: [+-] {piece})*", text), f"not a sum of pieces with their sources: {text}")
    total, sign = 0, 1
    for word in re.findall(rf"\({H} - {H}\)|{H}|[+-]", re.sub(r"\[[^\]]+\]", "", text)):
        if word in "+-":
            sign = 1 if word == "+" else -1
        elif word.startswith("("):
            end, start = word.strip("()").split(" - ")
            total += sign * (seconds(end) - seconds(start))
        else:
            total += sign * seconds(word)
    return total


# --- The calendar: months are months, days are days, and repeats are counted from the first anchor ---------


@dataclass(frozen=True)
class Span:
    """Calendar time: months first, then days."""

    months: int = 0
    days: int = 0

    @staticmethod
    def read(text):
        units = {unit.rstrip("s"): int(count) for count, unit in re.findall(r"(\d+) (months?|days?)", text)}
        return Span(units.get("month", 0), units.get("day", 0))

    def plus(self, other, times=1):
        return Span(self.months + times * other.months, self.days + times * other.days)

    def share(self, percent):
        """So many percent of the months and of the days, each rounded down."""
        return Span(self.months * percent // 100, self.days * percent // 100)


def shift(day, months, days, to_month_end=False):
    """The same day of the month so many months on, clipped to a shorter month or run to its end; then days."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    insist(1 <= year <= MAXYEAR, f"{day} and {months} months leave the calendar")
    last = monthrange(year, month + 1)[1]
    return date(year, month + 1, last if to_month_end else min(day.day, last)) + timedelta(days)


@dataclass(frozen=True)
class DueDay:
    """A due day as what it is counted from: 31 Aug and 6 months, not 28 Feb."""

    anchor: date
    span: Span
    to_month_end: bool

    def plus(self, span, times=1):
        return DueDay(self.anchor, self.span.plus(span, times), self.to_month_end)

    def runs_to_month_end(self):
        """Days alone have no month to run to the end of."""
        return self.to_month_end and self.span.months > 0

    def day(self):
        return shift(self.anchor, self.span.months, self.span.days, self.runs_to_month_end())
