"""How a leg stands on the day, and which leg comes first."""

import re
from fractions import Fraction

from workings.sums import H, agree, in_hours, insist, seconds

# Worst first: the order in which one leg of a line outweighs another. Past an extension is further than
# inside it, though a list of many lines names it later.
STATUSES = ["overdue", "unknown", "on condition", "in tolerance", "in extension", "coming due", "not due on record"]
PAST_DUE = {"overdue", "unknown", "in tolerance", "in extension", "on condition"}


def standing(sheet, leg, printed_why):
    """The status of a leg, and the comparison that says so in the words in which it must be printed."""
    if leg.missing:
        return missing(sheet, leg)
    if leg.left is None:
        return "unknown", "the hours now are not known"
    at = sheet.now if leg.axis == "hours" else sheet.as_of
    if leg.axis == "hours" and sheet.read_on > sheet.as_of and "after this day" in printed_why:
        return "not due on record", f"the reading of {leg.write(at)} was made after this day"
    due, extended = leg.point(leg.due), sheet.rule.extension is not None
    latest = due if leg.late_at_due(sheet.rule) else leg.latest or due
    if at > latest:
        return "on condition" if extended else "overdue", f"{leg.write(at)} is past {leg.write(latest)}"
    if at > due and leg.permitted_until and sheet.as_of > leg.permitted_until:
        ended = f"the permission ended {leg.permitted_until}"
        return "overdue", f"{leg.write(at)} is past {leg.write(due)}, and {ended}"
    if at > due:
        why = f"{leg.write(at)} is past {leg.write(due)} but not past {leg.write(latest)}"
        return "in extension" if extended else "in tolerance", why
    return before_due(sheet, leg, printed_why)


def missing(sheet, leg):
    """What cannot be told is unknown, unless it must have been due before now."""
    if leg.bound is None or sheet.rule.extension is not None:
        return "unknown", leg.missing
    if leg.axis == "hours" and (sheet.now is None or sheet.read_on > sheet.as_of):
        return "unknown", leg.missing
    at, due = sheet.now if leg.axis == "hours" else sheet.as_of, leg.point(leg.bound)
    latest = due if leg.late_at_due(sheet.rule) else leg.latest or due
    if at <= latest:
        return "unknown", leg.missing
    return "overdue", f"it was due no later than {leg.write(due)}, and {leg.write(at)} is past {leg.write(latest)}"


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
    """The legs that can be told."""
    return [leg for leg in legs if leg.left is not None]


def first_to_come(legs):
    """The side in the worse status; past due on both, both; else the one with the smaller share left.

    What cannot be told does not govern, unless it is overdue all the same."""
    sides = {}
    for leg in legs:
        if leg.left is None and leg.status != "overdue":
            continue
        insist(leg.status, f"what governs comes before how it stands by {leg.axis}")
        share = Fraction(-1) if leg.left is None else Fraction(leg.left, max(leg.interval(), 1))
        rank = (STATUSES.index(leg.status), share)
        sides[leg.axis] = min(rank, sides.get(leg.axis, rank))
    if len(sides) < 2:
        return next(iter(sides), "none")
    hours, calendar = sides["hours"], sides["calendar"]
    both_past_due = hours[0] == calendar[0] and STATUSES[hours[0]] in PAST_DUE
    if hours == calendar or both_past_due:
        return "both"
    return "hours" if hours < calendar else "calendar"


def line_standing(sheet):
    """The worst over all legs, over what asks for the line besides, and by the forecast of its hours."""
    statuses = [leg.status for leg in sheet.legs if leg.counted()]
    others = [sheet.asked or "not due on record", sheet.planned or "not due on record"]
    return min(statuses + others, key=STATUSES.index)
