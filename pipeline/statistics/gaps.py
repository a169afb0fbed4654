"""Rare events: the gaps between them, and three months together against the baseline.

Arrays may carry simulated series in front where said: the last axis is the months.
"""

from typing import NamedTuple

import numpy as np
from scipy.stats import binom, hypergeom

from pipeline.statistics.control_charts import GapLimits, g_limits, t_limits
from pipeline.statistics.run_rules import RECENT, about, sides


class GapsJudged(NamedTuple):
    """Gaps of one span, the last of each series the one still open; series in front, shorter ones filled on the left.

    ends : position of the case that ends each gap; lengths : NaN where filled; limits, rate : of the baseline, NaN
    where none or all of its cases have the event; side, signs : of each gap
    """

    ends: np.ndarray
    lengths: np.ndarray
    limits: GapLimits
    rate: np.ndarray
    side: np.ndarray
    signs: np.ndarray


def judge_gaps(series, at, count: int, weight: np.ndarray | None, base: np.ndarray) -> GapsJudged:
    """The gaps of one span's cases against the limits of its baseline's.

    Parameters
    ----------
    series, at : of each event, the number of its series and the position of its case, in order of both
    count : number of series
    weight : None counts the cases without the event between two; else the weights up to and with it are summed
    base : one a case, True in the baseline

    Notes
    -----
    The first gap begins with the first case. The gap still open is in no run; it cannot be too short yet, but once
    beyond the upper limit it stays so.
    """
    events = np.bincount(series, minlength=count)
    place = np.arange(len(at)) - np.repeat(np.cumsum(events) - events, events)
    column = place + (events.max() - events)[series]
    passed = np.arange(len(base) + 1.0) if weight is None else np.concatenate([[0.0], np.cumsum(weight)])
    after = passed[at + 1]
    since = np.where(place > 0, np.concatenate([[0.0], after])[:-1], 0.0)
    ends = np.full((count, events.max() + 1), len(base) - 1)
    lengths = np.full(ends.shape, np.nan)
    ends[series, column] = at
    lengths[series, column] = (passed[at] if weight is None else after) - since
    latest = np.zeros(count)
    latest[series] = after
    lengths[:, -1] = passed[-1] - latest
    limits, rate = _limits(np.bincount(series[base[at]], minlength=count), weight, base)
    side = sides(lengths, limits.low[:, None], limits.high[:, None])
    signs = about(lengths, limits.middle)
    side[:, -1], signs[:, -1] = np.maximum(side[:, -1], 0), 0
    return GapsJudged(ends, lengths, limits, rate, side, signs)


def _limits(having, weight: np.ndarray | None, base: np.ndarray) -> tuple[GapLimits, np.ndarray]:
    """Quantiles for the gaps of baselines that hold so many events, and the share or mean time behind them."""
    told = np.where((having > 0) & (having < base.sum()), having, np.nan)
    rate = told / base.sum() if weight is None else weight[base].sum() / told
    return (g_limits(rate) if weight is None else t_limits(rate)), rate


def judge_one(has: np.ndarray, weight: np.ndarray | None, base: np.ndarray) -> GapsJudged:
    """The gaps of a single series. has : 1 where the case has the event."""
    at = np.flatnonzero(has)
    found = judge_gaps(np.zeros(len(at), int), at, 1, weight, base)
    return GapsJudged(*(GapLimits(*(float(end[0]) for end in part)) if isinstance(part, GapLimits) else part[0]
                        for part in found))  # fmt: skip


def draw_events(hazard: np.ndarray, count: int, drawn: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """So many series of the same cases in which nothing changes: series and position of each event, in order.

    hazard : -log(1 - chance) of each case. Arrivals at the rate of one along the summed hazard hit a case once or
    more with just its chance, independently of the others; the rare ones alone are drawn, not every case.
    """
    reached = np.cumsum(hazard)
    arrivals = drawn.poisson(reached[-1], count)
    at = np.searchsorted(reached, drawn.random(arrivals.sum()) * reached[-1], side="right")
    hit = np.unique(np.repeat(np.arange(count), arrivals) * len(hazard) + np.minimum(at, len(hazard) - 1))
    return np.divmod(hit, len(hazard))


def clusters(events, cases, base, judged) -> tuple[np.ndarray, np.ndarray]:
    """For each judged month after the baseline, chance of so many events or more in it and the 2 before it.

    The months after the baseline, 3 at a time, against the baseline: with all the events of both given, their
    split among the cases is hypergeometric (Fisher's exact test, one-sided), whatever the rate. On the g and t
    charts it finds what a short gap cannot show, and harm where the baseline holds no event at all.

    Returns positions of the last month of each window, and the tail [fraction]; shape (..., windows).
    Exposure that is not whole (t chart) takes the binomial split of Poisson counts instead.
    """
    events, cases = np.asarray(events, float), np.asarray(cases, float)
    after = judged[judged > base[-1]]
    if not len(after):
        return after, np.empty((*events.shape[:-1], 0))
    sums = []
    for counts in (events, cases):
        running = np.concatenate([np.zeros((*counts.shape[:-1], 1)), np.cumsum(counts[..., after], axis=-1)], axis=-1)
        ends = np.arange(1, len(after) + 1)
        sums.append(running[..., ends] - running[..., np.maximum(ends - RECENT, 0)])
    (having, size), (before, base_size) = sums, (part[..., base].sum(-1)[..., None] for part in (events, cases))
    # Simulated series hold the same few counts over and over: each combination is worked out once.
    window = np.arange(len(after))
    combined = (window * (having.max() + 1) + having) * (before.max() + 1) + before
    _, first, where = np.unique(combined, return_index=True, return_inverse=True)
    having, before, size = (np.broadcast_to(part, combined.shape).ravel()[first] for part in (having, before, size))
    if (cases == np.floor(cases)).all() and (events <= cases).all():
        tails = hypergeom.sf(having - 1, size + base_size, having + before, size)
    else:
        tails = binom.sf(having - 1, having + before, size / (size + base_size))
    return after, tails[where].reshape(combined.shape)


def inverted(events, cases, base) -> bool:
    """Whether more than half of the baseline cases have it, so that those without it are the rare ones."""
    return bool(events[base].sum() * 2 > cases[base].sum())
