"""Second reading, part 6: intervals, quantiles, Kaplan-Meier, trend and log-rank, from their formulas."""

from decimal import ROUND_HALF_UP, Decimal
from math import erfc, exp, log, sqrt

Z = 1.959963984540054  # 97.5 % of the standard normal


def rounded(value):
    """Half up (away from zero) to 9 decimals."""
    return None if value is None else float(Decimal(value).quantize(Decimal("1e-9"), ROUND_HALF_UP))


def wilson(events, n):
    if n == 0:
        return None, None
    share, z2 = events / n, Z * Z
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = Z / (1 + z2 / n) * sqrt(share * (1 - share) / n + z2 / (4 * n * n))
    return (0.0 if events == 0 else middle - half), (1.0 if events == n else middle + half)


def quantile(values, p):
    """Type 7: linear between order statistics."""
    if not values:
        return None
    ordered = sorted(values)
    place = (len(ordered) - 1) * p
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (place - low) * (ordered[high] - ordered[low])


def kaplan_meier(stages):
    """[(event time, S, Greenwood sum)] of (minutes, seen); events before censorings at a tie."""
    curve, survival, greenwood = [], 1.0, 0.0
    for time in sorted({minutes for minutes, seen in stages if seen}):
        at_risk = len([1 for minutes, _ in stages if minutes >= time])
        events = len([1 for minutes, seen in stages if seen and minutes == time])
        survival *= (at_risk - events) / at_risk
        if at_risk > events:
            greenwood += events / (at_risk * (at_risk - events))
        curve.append((time, survival, greenwood))
    return curve


def time_quantile(curve, p):
    for time, survival, _ in curve:
        if survival <= 1 - p + 1e-9:
            return time
    return None


def median_interval(curve):
    """Log-log interval of the median: first times at which the lower and the upper band are at or under one half."""
    if not any(0 < survival < 1 for _, survival, _ in curve):
        return None, None
    low = high = None
    for time, survival, greenwood in curve:
        lower = upper = 0.0
        if survival > 0:
            spread = Z * sqrt(greenwood) / abs(log(survival))
            lower, upper = survival ** exp(spread), survival ** exp(-spread)
        if low is None and lower <= 0.5:
            low = time
        if high is None and upper <= 0.5:
            high = time
    return low, high


def trend(pairs):
    """(z, p) of Cochran-Armitage over (class, event 0 or 1); (None, None) where it is not defined."""
    n, events = len(pairs), sum(event for _, event in pairs)
    if len({score for score, _ in pairs}) < 2 or events in (0, n):
        return None, None
    share = events / n
    excess = sum(score * (event - share) for score, event in pairs)
    spread = sum(score * score for score, _ in pairs) - sum(score for score, _ in pairs) ** 2 / n
    z = excess / sqrt(share * (1 - share) * spread)
    return z, erfc(abs(z) / sqrt(2))
