"""How a line stands on a day, from its figures."""

from datetime import date

from telling.programme import UNKNOWN

WORST_FIRST = ["overdue", "unknown", "in-tolerance", "in-extension", "coming-due", "on-condition", "not-due"]
# How far a leg has come, with a tolerance past due and with an extension.
WITH_TOLERANCE = ["not-due", "coming-due", "in-tolerance", "overdue"]
WITH_EXTENSION = ["not-due", "coming-due", "in-extension", "on-condition"]
# A permission that ends on no day.
FOR_GOOD = date.max


def status(item, figures, count, permissions, as_of):
    """The status of an item's line. `permissions` are those given since it was last done, by their days."""
    stages = [by_hours(item, leg, count, permissions, as_of) for leg in figures.by_hours]
    stages += [by_day(item, leg, permissions, as_of) for leg in figures.by_day]
    return worst(stages, WITH_EXTENSION if item.extension_percent else WITH_TOLERANCE)


def worst(stages, words):
    """The word of the leg that has come furthest, or that one leg cannot be told, whichever is worse."""
    told = words[max((stage for stage in stages if stage != UNKNOWN), default=0)]
    return min([told] + ["unknown"] * (UNKNOWN in stages), key=WORST_FIRST.index)


def by_hours(item, leg, count, permissions, as_of):
    """How far a leg has come by hours."""
    if UNKNOWN in (leg.due, count.hours):
        return UNKNOWN
    until = permitted(item, [grant for grant in permissions if grant.hours <= leg.due])
    return stage(leg, count.hours, item.notice_hours, until is not None and as_of <= until)


def by_day(item, leg, permissions, as_of):
    """How far a leg has come by the calendar."""
    if leg.due == UNKNOWN:
        return UNKNOWN
    until = permitted(item, [grant for grant in permissions if grant.on <= leg.due])
    return stage(leg, as_of, item.notice_days, until is not None and as_of <= until)


def permitted(item, grants):
    """The last day of the permission that a tolerance needs, if one was given in time."""
    if item.granted == "automatic" or item.extension_percent:
        return FOR_GOOD
    if item.granted == "before-due" and grants:
        return grants[-1].until or FOR_GOOD
    return None


def stage(leg, now, notice, may_run_on):
    """0 not due, 1 coming due, 2 past due, 3 past the latest."""
    if now > leg.due:
        return 2 if may_run_on and now <= leg.latest else 3
    return 1 if now >= leg.due - notice else 0
