"""How a leg stands on the day, and which leg comes first."""

import re
from fractions import Fraction

from workings.sums import H, agree, in_hours, insist, seconds

# Worst first: the order in which one status outweighs another.
STATUSES = ["overdue", "unknown", "in tolerance", "in extension", "coming due", "on condition", "not due on record"]
PAST_DUE = {"overdue", "in tolerance", "in extension", "on condition"}


def standing(sheet, leg, printed_why):
    """The status of a leg, and the comparison that says so in the words in which it must be printed."""
    if leg.missing:
        return "unknown", leg.missing
    if leg.left is None:
        return "unknown", "the hours now are not known"
    at = sheet.now if leg.axis == "hours" else sheet.as_of
    if leg.axis == "hours" and sheet.read_on > sheet.as_of and "after this day" in printed_why:
        return "not due on record", f"the reading of {leg.write(at)} was made after this day"
    due, extended = leg.point(leg.due), sheet.rule.extension is not None
    latest = due if sheet.rule.late_at_due else leg.latest or due
    if at > latest:
        return "on condition" if extended else "overdue", f"{leg.write(at)} is past {leg.write(latest)}"
    if at > due:
        why = f"{leg.write(at)} is past {leg.write(due)} but not past {leg.write(latest)}"
        return "in extension" if extended else "in tolerance", why
    return before_due(sheet, leg, printed_why)


def before_due(sheet, leg, printed_why):
    """Coming due or not, by the notice that the sentence names: one and the same for all legs of a side."""
    notice = re.search(rf"the notice of ({H}|\d+) {leg.unit}$", printed_why)
    insist(notice, f"no notice to compare with: {printed_why}")
    agree("the notice", notice[1], sheet.notices.setdefault(leg.axis, notice[1]))
    if leg.axis == "hours":
        coming, left = leg.left <= seconds(notice[1]), in_hours(leg.left)
    else:
        coming, left = leg.left <= int(notice[1]), leg.left
    status, more = ("coming due", "not more") if coming else ("not due on record", "more")
    return status, f"{left} {leg.unit} left is {more} than the notice of {notice[1]} {leg.unit}"


def told(legs):
    """The legs that can be told; the others do not govern."""
    return [leg for leg in legs if leg.left is not None]


def first_to_come(legs):
    """The side in the worse status; past due on both, both; else the one with the smaller share left."""
    sides = {}
    for leg in told(legs):
        insist(leg.status, f"what governs comes before how it stands by {leg.axis}")
        rank = (STATUSES.index(leg.status), Fraction(leg.left, max(leg.interval(), 1)))
        sides[leg.axis] = min(rank, sides.get(leg.axis, rank))
    if len(sides) < 2:
        return next(iter(sides), "none")
    hours, calendar = sides["hours"], sides["calendar"]
    both_past_due = hours[0] == calendar[0] and STATUSES[hours[0]] in PAST_DUE
    if hours == calendar or both_past_due:
        return "both"
    return "hours" if hours < calendar else "calendar"
