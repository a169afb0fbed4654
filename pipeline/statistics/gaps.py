"""Rare events: the gaps between them, and three months together against the baseline.

Arrays may carry simulated series in front where said: the last axis is the months.
"""

from typing import NamedTuple

import numpy as np
from scipy.stats import binom, hypergeom

from pipeline.statistics.control_charts import GapLimits, g_limits, t_limits
from pipeline.statistics.run_rules import RECENT, about, sides


def gaps(has: np.ndarray, weight: np.ndarray | None) -> tuple[np.ndarray, np.ndarray, float]:
    """Positions of the events, the gap before each, and the gap open at the end.

    has : 1 where the case has the event; weight : None counts the cases without it between two events; else the
    weights up to and with the event are summed. The first gap begins with the first case.
    """
    at = np.flatnonzero(has)
    passed = np.arange(len(has) + 1.0) if weight is None else np.concatenate([[0.0], np.cumsum(weight)])
    after = passed[at + 1]
    since = np.concatenate([[0.0], after])
    ends = passed[at] if weight is None else after
    return at, ends - since[:-1], float(passed[-1] - since[-1])


def gap_limits(has: np.ndarray, weight: np.ndarray | None) -> tuple[GapLimits | None, float]:
    """Quantiles for the gaps of a baseline's cases, and the share or mean time behind them; None where none or
    all of the cases have the event."""
    if not has.any() or has.all():
        return None, np.nan
    rate = has.mean() if weight is None else weight.sum() / has.sum()
    return (g_limits(rate) if weight is None else t_limits(rate)), float(rate)


class GapsJudged(NamedTuple):
    """Gaps of one span. at: positions of the events; lengths: gap before each and, last, the one still open;
    limits, rate: of the baseline; side, signs: of each gap."""

    at: np.ndarray
    lengths: np.ndarray
    limits: GapLimits | None
    rate: float
    side: np.ndarray
    signs: np.ndarray


def judge_gaps(has: np.ndarray, weight: np.ndarray | None, base: np.ndarray) -> GapsJudged:
    """The gaps of one span's cases against the limits of its baseline's.

    base : True for the cases of the baseline. The gap still open is in no run; it cannot be too short yet, but
    once beyond the upper limit it stays so.
    """
    limits, rate = gap_limits(has[base], None if weight is None else weight[base])
    at, lengths, left = gaps(has, weight)
    lengths = np.append(lengths, left)
    if limits is None:
        return GapsJudged(at, lengths, None, rate, np.zeros(len(lengths), int), np.zeros(len(lengths), int))
    side = sides(lengths, limits.low, limits.high)
    signs = about(lengths, limits.middle)
    side[-1], signs[-1] = max(side[-1], 0), 0
    return GapsJudged(at, lengths, limits, rate, side, signs)


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
    if (cases == np.floor(cases)).all() and (events <= cases).all():
        return after, hypergeom.sf(having - 1, size + base_size, having + before, size)
    return after, binom.sf(having - 1, having + before, size / (size + base_size))


def inverted(events, cases, base) -> bool:
    """Whether more than half of the baseline cases have it, so that those without it are the rare ones."""
    return bool(events[base].sum() * 2 > cases[base].sum())
