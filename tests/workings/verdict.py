"""Whether a working leaves nothing out, and whether it reaches the figures printed beside it."""

from datetime import date

from workings.sheet import Sheet
from workings.standing import first_to_come, told
from workings.sums import agree, insist, seconds, tenths_down, tenths_up

AXES = ("hours", "calendar")


def redo(line):
    """Does a due line's working again; raises `Disagreement` where it does not come out."""
    sheet = Sheet()
    for text in line["working"]:
        sheet.read(text)
    nothing_left_out(sheet)
    figures_reached(sheet, line)


def nothing_left_out(sheet):
    insist(sheet.status, "no status at the end")
    insist(sheet.worn is None, "readings without what they say")
    insist(sheet.limits or sheet.asked or not sheet.applies, "neither a limit nor anything else that asks for it")
    insist(not sheet.kinds or sheet.answer_said, "whether it was done since is not said")
    known = None not in (sheet.happened_at, sheet.now)
    agree("whether hours since are said", sheet.since_said, known)
    for leg in sheet.life:
        counted_through(leg, sheet.life + sheet.life_over, sheet.life_rule)
    for leg in sheet.legs:
        counted_through(leg, sheet.legs + sheet.over, sheet.rule)
        said(sheet, leg)
    sheet.every_inspection_counted()
    agree("what governs", sheet.governs, first_to_come(sheet.legs))
    agree("whether shares are shown", sheet.shares_shown, len(told(sheet.legs)) > 1)


def name(leg):
    return f"{leg.axis} {leg.limit}".rstrip()


def counted_through(leg, legs, rule):
    """Whether a leg got as far as what is due, and the latest of it, among all legs there were."""
    what = name(leg)
    if not leg.counted():
        insist(leg.first is None and not leg.steps, f"{what}: neither due nor said not to be known")
        beside = [other for other in legs if other.number == leg.number]
        done = any(other.last_done > date.min for other in beside)
        insist(not done, f"{what}: done, but not said when it is due next")
    if leg.due is not None:
        leg.latest = leg.latest or leg.point(leg.due)
        agree(f"{what}: latest", leg.latest, leg.furthest(rule))


def said(sheet, leg):
    """Whether all is said of what is due."""
    if leg.due is None:
        return
    what = name(leg)
    known = leg.axis == "calendar" or sheet.now is not None
    agree(f"{what}: whether what is left is said", leg.left is not None, known)
    needed = sheet.rule.needs_permission and not leg.worn
    agree(f"{what}: whether a permission is said", leg.permitted is not None, needed)


def figures_reached(sheet, line):
    """The figures printed beside the working against what it came to."""
    due = [earliest(sheet, axis, lambda leg: leg.point(leg.due)) for axis in AXES]
    latest = [earliest(sheet, axis, lambda leg: leg.latest) for axis in AXES]
    left = None if None in (due[0], sheet.now) else due[0] - sheet.now
    late_hours = 0 if left is None else max(0, -left)
    late_days = max(0, (sheet.as_of - due[1]).days) if due[1] else 0
    agree("printed status", line["status"], sheet.status.removesuffix(" on record").replace(" ", "-"))
    agree("printed governs", line["governs"], sheet.governs)
    agree("printed due", point(line["due"]), due)
    agree("printed latest", point(line["latest"]), latest)
    agree("printed hours left", line["hours_left"], None if left is None else tenths_down(left))
    agree("printed overdue by", overrun(line["overdue_by"]), [tenths_up(late_hours), late_days])
    for key, redone in also_printed(sheet).items():
        if key in line:
            agree(f"printed {key.replace('_', ' ')}", line[key], redone)


def also_printed(sheet):
    """Figures that need not be beside a working, but must agree with it when they are."""
    late = [max((leg.overrun for leg in sheet.legs if leg.axis == axis), default=0) for axis in AXES]
    figures = {
        "as_of": str(sheet.as_of),
        "source": sheet.source,
        "last_overrun": {"hours": tenths_up(late[0]), "days": late[1]},
        "last_overrun_beyond_tolerance": any(leg.beyond for leg in sheet.legs),
    }
    if sheet.title:
        figures["title"] = sheet.title
    if sheet.class_:
        figures["class"] = sheet.class_.replace(" ", "-")
    if sheet.hours_said:
        figures["hours_now"] = None if sheet.now is None else tenths_up(sheet.now)
        figures["hours_on"] = sheet.read_on and str(sheet.read_on)
    return figures


def earliest(sheet, axis, of):
    return min((of(leg) for leg in sheet.legs if leg.axis == axis and leg.due is not None), default=None)


def point(printed):
    hours, on = printed["hours"], printed["on"]
    return [hours and seconds(hours), on and date.fromisoformat(on)]


def overrun(printed):
    return [printed["hours"], printed["days"]]
