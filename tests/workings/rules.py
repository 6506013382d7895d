"""The sentences that come before any counting: the hours now, the rule, and whether it applies."""

import re
from datetime import date

from workings.sentences import CLASSES, sentence
from workings.sums import D, H, add_up, agree, insist, seconds

NEVER_LATE = {"airworthiness limitation", "directive"}  # they have neither tolerance nor extension
RANGES = r"(?P<ranges>.+?)"


def quoted(text):
    """The words between backticks."""
    return re.findall(r"`([^`]*)`", text)


def number_of(serial):
    """The letters in front of a serial number, and its number; `None` if it does not end in one."""
    match = re.fullmatch(r"(.*?)(\d+)", serial)
    return match and (match[1], int(match[2]))


def plain(letters):
    """Letters as people mean them: large or small, with or without a hyphen or space."""
    return re.sub(r"[\W_]", "", letters).upper()


def ends_of(text):
    """The two ends of a range. Serial numbers hold hyphens too: the cut is where both sides are alike."""
    cuts = [at for at, letter in enumerate(text) if letter == "-"]
    ends = [(number_of(text[:at]), number_of(text[at + 1:])) for at in cuts]
    alike = [(first, last) for first, last in ends
             if first and last and plain(first[0]) == plain(last[0])]
    insist(len(alike) == 1, f"not a range: {text}")
    return alike[0]


def in_range(serial, text):
    first, last = ends_of(text)
    return plain(serial[0]) == plain(first[0]) and first[1] <= serial[1] <= last[1]


class Rules:
    """Takes in what is known before the counting."""

    @sentence(rf"As of (?P<day>{D})")
    def on_this_day(self, day):
        self.as_of = date.fromisoformat(day)

    @sentence(r"Hours now: not known")
    def hours_not_known(self):
        self.hours_said = True

    @sentence(rf"Hours now: (?P<total>.+) = (?P<now>{H}) h, read (?P<day>{D})")
    def hours_now(self, total, now, day):
        agree("hours now", seconds(now), add_up(total))
        self.hours_said, self.now, self.read_on = True, seconds(now), date.fromisoformat(day)

    @sentence(rf"Rule: (?P<source>.+), (?P<class_>{CLASSES})")
    def source_and_class(self, source, class_):
        self.source, self.class_ = source, class_

    @sentence(r"After work: always counts from done")
    def counts_from_done(self):
        self.rule.policy = "from-done"

    @sentence(
        r"After work: counts on from due if it was late, from done if not; "
        r"a renewal or overhaul always from done"
    )
    def counts_from_due(self):
        self.rule.policy = "from-due"

    @sentence(
        r"After work: counts on from due if done inside the tolerance before or after due, else from done; "
        r"a renewal or overhaul always from done"
    )
    def counts_by_window(self):
        self.rule.policy = "window"

    @sentence(r"Past due: overdue at once")
    def no_tolerance(self):
        self.rule.past_due = "overdue at once"

    @sentence(
        r"Past due: extension of (?P<percent>\d+) % of the interval from its start, "
        r"months and days rounded down, then on condition"
    )
    def extension(self, percent):
        insist(self.class_ not in NEVER_LATE, f"an extension of a {self.class_}")
        self.rule.past_due, self.rule.extension = "extension", int(percent)

    @sentence(
        r"Past due: tolerance of (?P<parts>.+?)(?:, the strictest on each side)?"
        r"(?P<en_route>; it is only for reaching a place where the work can be done, so overdue at once)?"
        r"(?P<needs>; it needs a permission recorded before due, else overdue at once)?"
    )
    def tolerance(self, parts, en_route, needs):
        insist(self.class_ not in NEVER_LATE, f"a tolerance of a {self.class_}")
        self.rule.past_due = "tolerance"
        self.rule.en_route_only, self.rule.needs_permission = en_route is not None, needs is not None
        for part in parts.split(" or "):
            self.rule.tolerance_part(part)

    # Whether it applies

    @sentence(rf"Applies to serial numbers {RANGES}: (?P<what>[a-z0-9-]+) `(?P<serial>.+)` is in (?P<range_>.+)")
    def serial_in_range(self, ranges, what, serial, range_):
        insist(range_ in ranges.split(" or "), f"{range_} is none of the ranges")
        number = number_of(serial)
        insist(number and in_range(number, range_), f"{serial} is not in {range_}")

    @sentence(rf"Applies to serial numbers {RANGES}: not known, (?P<what>[a-z0-9-]+) `(?P<serial>.+)` does not end in a number")
    def serial_unreadable(self, ranges, what, serial):
        insist(number_of(serial) is None, f"{serial} ends in a number")
        self.applies = False

    @sentence(r"Applies to lots (?P<asked>`.+`): (?P<what>[a-z0-9-]+) of lot `(?P<lot>.+)`")
    def lot_is_one(self, asked, what, lot):
        insist(lot in quoted(asked), f"lot {lot} is none of them")

    @sentence(
        rf"Applies to (?:serial numbers|lots) {RANGES}: "
        r"not known, no (?:serial number of the |lot of the )?(?P<what>[a-z0-9-]+) on record"
    )
    def not_marked(self, ranges, what):
        self.applies = False

    @sentence(r"Applies to (?P<attribute>[a-z]+) (?P<asked>`.+`): on record (?P<known>`.+`)")
    def described(self, attribute, asked, known):
        insist(set(quoted(asked)) & set(quoted(known)), f"its {attribute} is none of those asked for")

    @sentence(r"Applies to (?P<attribute>[a-z]+) (?P<asked>`.+`): not known, none on record")
    def not_described(self, attribute, asked):
        self.applies = False
