"""Cumulative sums: small lasting shifts, and rare events case by case with the risk of each case counted in."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike


class Cusum(NamedTuple):
    """up, down: sums after each value, 0 or more; first_up, first_down: index of the first over the limit."""

    up: np.ndarray
    down: np.ndarray
    first_up: int | None
    first_down: int | None


def tabular(values: ArrayLike, target: float, slack: float, limit: float) -> Cusum:
    """Two-sided tabular CUSUM.

    Parameters
    ----------
    values : in time order, none missing
    target : value at which nothing changes
    slack : K, half the shift worth finding, in the unit of the values
    limit : H, the sum that signals, in the unit of the values

    Notes
    -----
    up_t = max(0, up_{t-1} + x_t - target - K), down_t = max(0, down_{t-1} + target - K - x_t). With K = sigma/2
    and H = 4 sigma an unchanged series signals once in 168 values on average [2].

    Examples
    --------
    >>> found = tabular([10.2, 11.4, 12.0, 11.9], target=10, slack=0.5, limit=4)
    >>> [round(float(number), 1) for number in found.up], found.first_up
    ([0.0, 0.9, 2.4, 3.8], None)

    Sources: [1] Page ES. Biometrika 1954;41:100-115. [2] Lucas JM, Crosier RB. Technometrics 1982;24:199-205,
    Table 1.
    """
    values = np.asarray(values, float)
    up, down = (_from_zero(side * (values - target) - slack) for side in (1, -1))
    return Cusum(up, down, _first_over(up, limit), _first_over(down, limit))


class RiskAdjusted(NamedTuple):
    """sums: one a case, 0 or more; limit: the sum that signals; first: index of the first case over it."""

    sums: np.ndarray
    limit: float
    first: int | None


def scores(happened: ArrayLike, risk: ArrayLike, odds_ratio: float = 2.0) -> np.ndarray:
    """Log-likelihood-ratio score of each case: odds of the event changed by odds_ratio, against unchanged.

    Parameters
    ----------
    happened : 1 or True where the case had the event
    risk : its probability as things were [fraction], over 0 to under 1
    odds_ratio : change to look for; over 1 harm, under 1 improvement

    Notes
    -----
    With odds ratio R and risk p: log(R/(1 - p + Rp)) where it happened, log(1/(1 - p + Rp)) where not.

    Examples
    --------
    Parsonnet score 0, p = 0.0246, printed as -0.024 and 0.669 in [2], p. 234:

    >>> risk = 1 / (1 + np.exp(3.68))
    >>> print("{:.3f} {:.3f}".format(*scores([0, 1], [risk, risk])))
    -0.024 0.669

    Sources: [1] Steiner SH, Cook RJ, Farewell VT, Treasure T. Monitoring surgical performance using
    risk-adjusted cumulative sum charts. Biostatistics 2000;1:441-452. [2] Steiner SH. In: Lawless JF (ed.)
    Statistics in action. 2014.
    """
    happened, risk = np.asarray(happened, float), np.asarray(risk, float)
    if not ((risk > 0) & (risk < 1)).all():
        raise ValueError("a risk must lie between 0 and 1")
    return happened * np.log(odds_ratio) - np.log(1 - risk + odds_ratio * risk)


def risk_adjusted(
    happened: ArrayLike, risk: ArrayLike, odds_ratio: float = 2.0, false_alarm: float = 0.05, seed: int = 20260101
) -> RiskAdjusted:
    """Risk-adjusted Bernoulli CUSUM over cases in time order (`scores` has the parameters).

    The limit is the one that unchanged series of just these cases would cross with probability false_alarm:
    taken from 4,000 series drawn from the risks with a fixed seed, so that the page can state it.
    """
    happened, risk = np.asarray(happened, float), np.asarray(risk, float)
    if not len(risk):
        return RiskAdjusted(np.empty(0), np.nan, None)
    sums = _from_zero(scores(happened, risk, odds_ratio))
    drawn = np.random.default_rng(seed)
    highest, running = np.zeros(4000), np.zeros(4000)
    for chance, spared in zip(risk, scores(np.zeros(len(risk)), risk, odds_ratio), strict=True):
        running += np.where(drawn.random(4000) < chance, spared + np.log(odds_ratio), spared)
        np.maximum(running, 0, out=running)
        np.maximum(highest, running, out=highest)
    limit = float(np.quantile(highest, 1 - false_alarm, method="higher"))
    return RiskAdjusted(sums, limit, _first_over(sums, limit))


def _from_zero(steps: np.ndarray) -> np.ndarray:
    sums, last = np.empty_like(steps), 0.0
    for i, step in enumerate(steps):
        last = sums[i] = max(0.0, last + step)
    return sums


def _first_over(sums: np.ndarray, limit: float) -> int | None:
    over = sums > limit
    return int(over.argmax()) if over.any() else None
