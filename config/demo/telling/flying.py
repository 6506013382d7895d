"""How fast hours come on an aircraft, and by when so many may be used up: the forecast's method, written again.

Hours come in lumps, at a rate that is gamma distributed for each kind of owner, more in one month than in another.
What is usual of private, club and school flying is moved towards what the aircraft flew, a year counting half.
"""

from bisect import bisect_left
from datetime import timedelta
from math import exp, lgamma, log

from telling.days import month_end

NORTH = [0.49, 0.58, 0.96, 1.18, 1.31, 1.42, 1.36, 1.31, 1.16, 0.98, 0.71, 0.54]
# How likely an owner is of a kind, the shape of the rates of that kind, and their mean in hours a year.
USUAL = {"private": (0.50, 2.0, 45.0), "club": (0.35, 2.0, 120.0), "school": (0.15, 3.0, 380.0)}
YEAR, HALF_LIFE, TEN_YEARS = 365.25, 365.0, 3650
LUMP, LUMP_WEEKS, LUMP_WEIGHT, SEASON_WEIGHT = 3.0, 1.5, 20.0, 3.0
HABITS, SEASONS, SEASONS_DAYS = 0.05, 0.25, 180
EARLY = 0.10


class Gap:
    """What was flown from one reading to the next."""

    def __init__(self, begin, end, hours, now):
        self.days, self.hours = (end - begin).days, hours
        self.weight = 0.5 ** (((now - end).days + self.days / 2) / HALF_LIFE)
        self.by_month, day = [0] * 12, begin
        while day < end:
            until = min(month_end(day) + timedelta(1), end)
            self.by_month[day.month - 1] += (until - day).days
            day = until

    def seasonal(self, months):
        """Its days of average flying, by its months."""
        return [days * factor for days, factor in zip(self.by_month, months)]

    def exposure(self, months):
        """The same, never none at all."""
        return max(sum(self.seasonal(months)), 0.02 * self.days)


class Flying:
    """What was learnt from the readings of an aircraft: days, and hours run until then, the last of each day."""

    def __init__(self, readings, owner, hemisphere):
        days = sorted(readings)
        self.last = days[-1]
        gaps = [Gap(a, b, readings[b] - readings[a], self.last) for a, b in zip(days, days[1:])]
        usual = list(USUAL.values()) if owner is None else [(1.0, *USUAL[owner][1:])]
        self.months = list(NORTH) if hemisphere == "north" else [1.0] * 12
        rate = max(sum(gap.hours for gap in gaps) / max(sum(gap.days for gap in gaps), 1), 1 / 365)
        for again in range(5):
            self.lump = lump(gaps, self.months, rate)
            self.kinds = kinds(gaps, self.months, self.lump, usual)
            rate = sum(weight * shape / exposure for weight, shape, exposure in self.kinds)
            if len(gaps) >= 3 and again < 4:
                base = NORTH if hemisphere == "north" else [1.0] * 12
                self.months = own_months(gaps, self.months, base, self.lump, rate)
        self.exposure, day = [0.0], self.last
        for _ in range(TEN_YEARS):
            self.exposure.append(self.exposure[-1] + self.months[day.month - 1])
            day += timedelta(1)

    def chance(self, days, hours):
        """How likely it is that more than these hours are flown within so many days."""
        chance = 0.0
        for weight, shape, exposure in self.kinds:
            mean = shape / exposure * self.exposure[days]
            scatter = 1 / shape + HABITS + SEASONS * max(0, 1 - days / SEASONS_DAYS)
            variance = self.lump * mean + mean**2 * scatter
            chance += weight * upper_gamma(mean**2 / variance, hours * mean / variance)
        return chance

    def plan_by(self, tenths):
        """The first day by which so many tenths of an hour may be used up, with one chance in ten."""
        hours = tenths / 10
        days = bisect_left(range(1, TEN_YEARS + 1), EARLY, key=lambda days: self.chance(days, hours)) + 1
        if days > TEN_YEARS:
            return None
        # The chance is not bound to grow from day to day while the seasons even out.
        earlier = [day for day in range(max(1, days - 40), days) if self.chance(day, hours) >= EARLY]
        return self.last + timedelta(min([days, *earlier]))


def lump(gaps, months, rate):
    """How many hours usually come at once, from how far the gaps scatter about the rate."""
    expected = [rate * gap.exposure(months) for gap in gaps]
    scatter = sum((gap.hours - mean) ** 2 / mean for gap, mean in zip(gaps, expected))
    usual = LUMP + LUMP_WEEKS * 7 * rate
    return (LUMP_WEIGHT * usual + scatter) / (LUMP_WEIGHT + max(len(gaps) - 1, 0))


def kinds(gaps, months, lump_hours, usual):
    """For each kind of owner how likely it is, and the shape and exposure of its rate."""
    hours = sum(gap.weight * gap.hours / lump_hours for gap in gaps)
    exposure = sum(gap.weight * gap.exposure(months) / lump_hours for gap in gaps)
    learnt = []
    for weight, shape, mean in usual:
        before = shape * YEAR / mean
        after, shape_after = before + exposure, shape + hours
        fits = lgamma(shape_after) - lgamma(shape) + shape * log(before) - shape_after * log(after)
        learnt.append((log(weight) + fits, shape_after, after))
    most = max(fits for fits, _, _ in learnt)
    total = sum(exp(fits - most) for fits, _, _ in learnt)
    return [(exp(fits - most) / total, shape, after) for fits, shape, after in learnt]


def own_months(gaps, months, base, lump_hours, rate):
    """The aircraft's own months, drawn towards the usual ones."""
    flown, expected = [0.0] * 12, [0.0] * 12
    for gap in gaps:
        seasonal = gap.seasonal(months)
        for month, share in enumerate(seasonal):
            flown[month] += gap.hours * share / sum(seasonal)
            expected[month] += rate * gap.by_month[month]
    prior = SEASON_WEIGHT * lump_hours
    own = [usual * (prior + f) / (prior + usual * e) for usual, f, e in zip(base, flown, expected)]
    return [factor * 12 / sum(own) for factor in own]


def upper_gamma(shape, at):
    """The regularised upper incomplete gamma function: by its series where that is short, else as a fraction."""
    front = exp(shape * log(at) - at - lgamma(shape))
    if at < shape + 1:
        term = total = 1 / shape
        place = shape
        while abs(term) > abs(total) * 1e-17:
            place += 1
            term *= at / place
            total += term
        return 1 - front * total
    b, c = at + 1 - shape, 1e300
    d = 1 / b
    fraction = d
    for step in range(1, 10_000):
        a = -step * (step - shape)
        b += 2
        d, c = 1 / (a * d + b), b + a / c
        fraction *= c * d
        if abs(c * d - 1) < 1e-16:
            break
    return front * fraction
