"""A line of least squares, or one that a fleet steadies, and the hours at which the edge of its uncertainty meets a limit."""

from dataclasses import dataclass
from math import exp, inf, lgamma, log, log1p, sqrt

HOLDS = 0.95
HORIZON = 5000.0
STEPS = 3


@dataclass
class Fleet:
    """What is known of a type: where its lines begin when a part is new and how they go on, and how unlike they are."""

    engines: int
    new_at: float
    intercept: float
    intercept_variance: float
    slope: float
    slope_variance: float
    covariance: float
    scatter: float
    freedom: float


def student_t(confidence, freedom):
    """The value that Student's t stays below so often, by halving; its tail is an incomplete beta function."""
    low, high = 0.0, 1e6
    for _ in range(200):
        middle = (low + high) / 2
        tail = 0.5 * beta_share(freedom / (freedom + middle * middle), freedom / 2, 0.5)
        low, high = (middle, high) if 1 - tail < confidence else (low, middle)
    return (low + high) / 2


def beta_share(x, a, b):
    """The regularised incomplete beta function, by its continued fraction (Lentz)."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_share(1 - x, b, a)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a
    tiny, c, d = 1e-300, 1.0, 0.0
    fraction = 1.0
    for step in range(400):
        half = step // 2
        if step == 0:
            numerator = 1.0
        elif step % 2:
            numerator = -(a + half) * (a + b + half) * x / ((a + step - 1) * (a + step))
        else:
            numerator = half * (b - half) * x / ((a + step - 1) * (a + step))
        d = 1 / ((1 + numerator * d) or tiny)
        c = (1 + numerator / c) or tiny
        fraction *= c * d
        if step and abs(c * d - 1) < 1e-15:
            break
    return front * (fraction - 1)


def bound(points, limit, sign, scatter_least):
    """The hours before which the limit is not reached, so often; infinite where that is not within the horizon,
    `None` where no line leads towards it."""
    hours = [at for at, _ in points]
    n, last = len(points), max(hours)
    mean = sum(hours) / n
    middle = sum(value for _, value in points) / n
    squares = sum((at - mean) ** 2 for at in hours)
    slope = sum((at - mean) * (value - middle) for at, value in points) / squares
    if sign * slope <= 0:
        return None
    rest = sum((value - middle - slope * (at - mean)) ** 2 for at, value in points)
    scatter = max(sqrt(rest / (n - 2)), scatter_least)
    reach = student_t(HOLDS, n - 2) * scatter

    def beyond(at):
        edge = sign * (middle + slope * (at - mean) - limit)
        return edge + reach * sqrt(1 / n + (at - mean) ** 2 / squares)

    return meets(beyond, last, max(HORIZON, 2 * last))


def steadied(points, limit, sign, fleet):
    """The same for a line that is steadied by a fleet's: Bayes' rule for a line with a normal prior, whose scatter the
    readings correct three times over. Told in hours since the part was new."""
    counted = [(at - fleet.new_at, value) for at, value in points]
    n, last = len(counted), max(at for at, _ in points)
    prior = inverse(fleet.intercept_variance, fleet.covariance, fleet.slope_variance)
    pull = times(prior, (fleet.intercept, fleet.slope))
    squares = (n, sum(at for at, _ in counted), sum(at * at for at, _ in counted))
    products = (sum(value for _, value in counted), sum(at * value for at, value in counted))
    variance = fleet.scatter**2
    for _ in range(STEPS):
        spread = inverse(*(known + read / variance for known, read in zip(prior, squares)))
        line = times(spread, [known + read / variance for known, read in zip(pull, products)])
        rest = sum((value - line[0] - line[1] * at) ** 2 for at, value in counted)
        variance = (fleet.freedom * fleet.scatter**2 + rest) / (fleet.freedom + n)
    if sign * line[1] <= 0:
        return None
    reach = student_t(HOLDS, fleet.freedom + n)

    def beyond(at):
        since = at - fleet.new_at
        edge = sign * (line[0] + line[1] * since - limit)
        return edge + reach * sqrt(spread[0] + 2 * since * spread[1] + since * since * spread[2])

    return meets(beyond, last, max(HORIZON, 2 * last))


def inverse(first, both, second):
    """The inverse of a symmetric matrix of two rows, as its three figures."""
    determinant = first * second - both * both
    return second / determinant, -both / determinant, first / determinant


def times(matrix, column):
    """Such a matrix times a column."""
    first, both, second = matrix
    return first * column[0] + both * column[1], both * column[0] + second * column[1]


def meets(beyond, last, horizon):
    """Where an edge meets a limit: at the last hours if it is there already, infinite past the horizon."""
    low, high = last, horizon
    if beyond(low) >= 0:
        return last
    if beyond(high) < 0:
        return inf
    for _ in range(200):
        half = (low + high) / 2
        low, high = (half, high) if beyond(half) < 0 else (low, half)
    return low
