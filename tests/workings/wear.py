"""The sentences of a measured limit: its readings, what is left out of them, and where their trend leads."""

import re
from math import inf

from workings.legs import HoursLeg
from workings.line import HORIZON, Fleet, bound, steadied
from workings.sentences import sentence
from workings.sums import D, H, agree, insist, seconds

NUMBER = r"-?\d+(?:\.\d+)?"
UNREAD = "at hours that are not on record"


class WornLeg(HoursLeg):
    """Due when a limit may be reached: no tolerance, no permission, no repeat."""

    worn = True

    def furthest(self, rule):
        return self.due


class Wear:
    """Takes in what was measured."""

    @sentence(
        rf"Readings, (?P<name>trend of .+) \(at (?P<end>most|least) (?P<limit>{NUMBER}) (?P<unit>[^()]+)\): "
        r"(?P<told>none|.+?)(?:; (?P<earlier>\d+) before the part was changed)?"
    )
    def readings_told(self, name, end, limit, unit, told, earlier):
        self.worn_name, self.worn_limit, self.worn_sign = name, float(limit), 1 if end == "most" else -1
        self.worn = [] if told == "none" else [reading(one, unit) for one in told.split(", ")]
        self.run_in, self.fleet = 0, None

    @sentence(rf"Running-in until (?P<until>{H}) h: (?P<count>\d+) left out")
    def running_in(self, until, count):
        insist(self.worn, "a running-in without readings")
        self.run_in = seconds(until)
        left_out = [at for at, _ in self.worn if at is None or at < self.run_in]
        agree("how many readings are left out", int(count), len(left_out))

    @sentence(
        rf"Fleet: (?P<engines>\d+) engines of the type, as worked out on {D} \(version \d+\), counted from (?P<new_at>{H}) h, "
        rf"when the part was new: they begin at (?P<intercept>{NUMBER}) (?P<unit>[^,]+), variance (?P<intercept_variance>{NUMBER}), "
        rf"and change by (?P<slope>{NUMBER}) (?P=unit) an hour, variance (?P<slope_variance>{NUMBER}), "
        rf"covariance (?P<covariance>{NUMBER}); readings scatter by (?P<scatter>{NUMBER}) (?P=unit), "
        rf"known from (?P<freedom>{NUMBER}) degrees of freedom"
    )
    def fleet_told(self, engines, new_at, unit, **figures):
        insist(self.worn, f"a fleet without readings in {unit}")
        insist(int(engines) >= 6, f"{engines} engines are no fleet")
        self.fleet = Fleet(int(engines), seconds(new_at) / 3600, **{name: float(text) for name, text in figures.items()})

    @sentence(rf"Trend: (?P<says>.+?)(?:\. Due: (?P<due>{H}) h)?")
    def trend(self, says, due):
        insist(self.worn is not None, "a trend of what was not measured")
        right, at = self.trend_again(says)
        agree("what the readings say", says, right)
        agree("due by the trend", due and seconds(due), at)
        if at is not None:
            last = self.worn[-1][0]
            self.legs.append(WornLeg(self.worn_name, None, since=last, due=at, span=at - last, number=-1))
        self.worn = None

    def trend_again(self, says):
        """What the readings say, in the words in which it must be printed, and the hours that it sets."""
        used = [(at / 3600, value) for at, value in self.worn if at is not None and at >= self.run_in]
        distinct = len({at for at, _ in used})
        if self.worn and self.worn[-1][0] is None:
            return "cannot say: the hours of the last reading are not known", None
        known = [it for it in self.worn if it[0] is not None]
        at_last = [value for at, value in known if at == known[-1][0]]
        if any(self.worn_sign * (value - self.worn_limit) >= 0 for value in at_last):
            return "the last reading is at the limit or beyond", known[-1][0]
        if not used:
            return "cannot say: nothing was measured since the running-in and the last change of the part", None
        if self.fleet:
            return self.drawn(used, says)
        if len(used) < 3:
            return f"cannot say: needs 3 readings at different hours, and there are {len(used)}", None
        if distinct == 1:
            return "cannot say: all readings are at the same hours", None
        return self.drawn(used, says)

    def drawn(self, used, says):
        """Where a line leads, with the fleet that was told or else with the uncertainty that is printed."""
        if self.fleet:
            readings = "1 reading" if len(used) == 1 else f"{len(used)} readings"
            line = f"by a line through {readings}, steadied by {self.fleet.engines} engines, "
            found = steadied(used, self.worn_limit, self.worn_sign, self.fleet)
        else:
            given = re.search(rf"uncertainty ({NUMBER}) each", says)
            insist(given, f"a line without its uncertainty: {says}")
            line = f"by a line through {len(used)} readings, uncertainty {given[1]} each, "
            found = bound(used, self.worn_limit, self.worn_sign, float(given[1]) / 2)
        last = self.worn[-1][0]
        if found is None:
            return f"{line}no wear towards the limit is visible", None
        if found == inf:
            return f"{line}the limit is not reached within {max(HORIZON, 2 * last / 3600):.1f} h", None
        if found * 3600 <= last:
            return f"{line}it cannot be excluded that it is beyond the limit at the last reading", last
        due = max(int(found * 10 + 1e-6) * 360, last)
        return f"{line}the limit is not reached before that in 95 of 100 cases", due


def reading(text, unit):
    """One reading: its hours in seconds, `None` where they are not on record, and its value."""
    value, rest = text.split(f" {unit} ", 1)
    return None if rest == UNREAD else seconds(rest.removeprefix("at ").removesuffix(" h")), float(value)
