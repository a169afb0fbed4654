"""The tests and curves of pipeline/statistics for thousands of groups at once, from counts instead of cases.

One group a row. The tests hold each of them to the function that does one group at a time.
"""

from typing import NamedTuple

import numpy as np
from scipy.special import chdtrc, erfc, ndtri

from pipeline.statistics.survival import REACHED

# Groups computed together: enough to keep numpy busy, few enough that a matrix of them stays in the cache.
TOGETHER = 256


class Curves(NamedTuple):
    """Kaplan-Meier curves by group. entered, seen [count]; quartiles and the median's 95 % limits [min], NaN where
    not reached."""

    entered: np.ndarray
    seen: np.ndarray
    quartile_1: np.ndarray
    median: np.ndarray
    quartile_3: np.ndarray
    low: np.ndarray
    high: np.ndarray


def trends(events: np.ndarray, totals: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """z and p of `statistics.trend.cochran_armitage` for each row; NaN where nothing can be tested.

    events, totals: one row a group, one column a class with scores 1, 2, 3 ... [count]
    """
    scores = np.arange(1.0, totals.shape[1] + 1)
    cases, having = totals.sum(axis=1), events.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = having / cases
        spread = totals @ scores**2 - (totals @ scores) ** 2 / cases
        z = (events - totals * share[:, None]) @ scores / np.sqrt(share * (1 - share) * spread)
    testable = ((totals > 0).sum(axis=1) > 1) & (having > 0) & (having < cases) & (spread > 0)
    z = np.where(testable, z, np.nan)
    return z, erfc(np.abs(z) / np.sqrt(2))


def curves(starts: np.ndarray, minutes: np.ndarray, cases: np.ndarray, seen: np.ndarray) -> Curves:
    """The curve of each group, as `statistics.survival.kaplan_meier` and its quantiles give it.

    starts: where each group begins in the other three, and their length at the end
    minutes: times of a group, each once, rising [min]; cases: watched for so long; seen: of those, had the event
    """
    lengths = np.diff(starts)
    found = np.full((len(Curves._fields), len(lengths)), np.nan)
    by_length = np.argsort(lengths, kind="stable")
    for begin in range(0, len(lengths), TOGETHER):
        chosen = by_length[begin : begin + TOGETHER]
        steps = np.arange(lengths[chosen].max())
        real = steps < lengths[chosen, None]
        at = np.where(real, starts[chosen, None] + steps, 0)
        found[:, chosen] = _rectangle(minutes[at], np.where(real, cases[at], 0), np.where(real, seen[at], 0), real)
    return Curves(*found)


def _rectangle(minutes, cases, seen, real) -> tuple:
    """Curves of groups of about one length. real: which places of a row are times and which only fill it up."""
    entered = cases.sum(axis=1)
    waiting = np.maximum(entered[:, None] - np.cumsum(cases, axis=1) + cases, 1)
    all_gone = (seen == waiting) & real
    still = np.exp(np.cumsum(np.log(np.maximum(1 - seen / waiting, 1e-16)), axis=1))
    still[all_gone] = 0
    error = np.sqrt(np.cumsum(seen / np.maximum(waiting * (waiting - seen), 1e-12), axis=1)) * still
    fallen = real & (still < 1)
    inside = fallen & (still > 0)
    low, high = np.zeros_like(still), np.zeros_like(still)
    curve = still[inside]
    reach = ndtri(0.975) * error[inside] / (curve * -np.log(curve))
    low[inside], high[inside] = curve ** np.exp(reach), curve ** np.exp(-reach)

    def first(reached):
        at = reached.argmax(axis=1)
        rows = np.arange(len(at))
        return np.where(reached[rows, at], minutes[rows, at], np.nan)

    quartiles = [first(fallen & (still <= 1 - share + REACHED)) for share in (0.25, 0.5, 0.75)]
    some = inside.any(axis=1)[:, None]
    limits = [first(fallen & some & (band <= 0.5)) for band in (low, high)]
    return entered, seen.sum(axis=1), *quartiles, *limits


def log_rank(group: np.ndarray, minutes: np.ndarray, cases: np.ndarray, seen: np.ndarray) -> tuple[float, float]:
    """chi2 and p of `statistics.survival.log_rank` over counted cases; NaN where there is no test.

    group: number of the group of each row; minutes [min]; cases: watched for so long; seen: of those, had the event
    """
    nothing = (np.nan, np.nan)
    if not seen.any():
        return nothing
    times, at = np.unique(minutes, return_inverse=True)
    names, group = np.unique(group, return_inverse=True)
    shape = (len(names), len(times))
    events, waiting = np.zeros(shape), np.zeros(shape)
    events[group, at], waiting[group, at] = seen, cases
    waiting = waiting[:, ::-1].cumsum(axis=1)[:, ::-1]
    kept = waiting[:, (events.sum(axis=0) > 0).argmax()] > 0
    events, waiting = events[kept], waiting[kept]
    if len(events) < 2:
        return nothing
    happened, all_waiting = events.sum(axis=0), waiting.sum(axis=0)
    used = (happened > 0) & (all_waiting > 1)
    events, waiting, happened, all_waiting = events[1:, used], waiting[1:, used], happened[used], all_waiting[used]
    part = waiting / all_waiting
    beyond = (events - part * happened).sum(axis=1)
    weight = happened * (all_waiting - happened) / (all_waiting - 1)
    spread = np.diag((part * weight).sum(axis=1)) - (part * weight) @ part.T
    try:
        chi2 = float(beyond @ np.linalg.solve(spread, beyond))
    except np.linalg.LinAlgError:
        return nothing
    return (chi2, float(chdtrc(len(beyond), chi2))) if np.isfinite(chi2) else nothing


def quartiles(starts: np.ndarray, amounts: np.ndarray, cases: np.ndarray) -> np.ndarray:
    """First quartile, median and third of each group, between two cases by linear interpolation (Hyndman and Fan's
    type 7, as numpy's quantile and SQL's percentile_cont).

    starts: where each group begins in the other two, and their length at the end
    amounts: amounts of a group, each once, rising; cases: how many have it
    Returns three rows, one column a group.
    """
    up_to = np.cumsum(cases)
    before = np.concatenate([[0], up_to])[starts]
    found = []
    for share in (0.25, 0.5, 0.75):
        place = (np.diff(before) - 1) * share
        under = np.floor(place)
        low, high = (
            amounts[np.searchsorted(up_to, before[:-1] + whole, side="right")] for whole in (under, np.ceil(place))
        )
        found.append(low + (high - low) * (place - under))
    return np.array(found)
