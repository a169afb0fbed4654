"""A learning curve for one skill: the cumulative sum of failures against what was expected of them.

Drawn only where [programme] defines it and names the trainee who asked for it.
"""

from math import log
from typing import NamedTuple

from pipeline.training.programme import Curve, Programme
from pipeline.training.targets import fits


class Lines(NamedTuple):
    """step: what a success takes off, a failure adds 1 - step; lower, upper: lines of decision [failures]."""

    step: float
    lower: float
    upper: float


def lines(acceptable: float, unacceptable: float, alpha: float = 0.1, beta: float = 0.1) -> Lines:
    """Step and decision lines of the cumulative sum for failures.

    Parameters
    ----------
    acceptable, unacceptable : shares of attempts that fail [0 to 1], the first below the second
    alpha : chance of crossing the upper line although the acceptable share holds
    beta : chance of crossing the lower line although the unacceptable share holds

    Notes
    -----
    With P = ln(unacceptable/acceptable) and Q = ln((1 - acceptable)/(1 - unacceptable))::

        step = Q / (P + Q)    upper = ln((1 - beta)/alpha) / (P + Q)    lower = -ln((1 - alpha)/beta) / (P + Q)

    These are Wald's lines of the sequential test of two shares [3], as Bolsin and Colson [1] and de Oliveira
    Filho [2] use them for the skills of trainees. The chances of error hold approximately, as Wald's always do.

    Examples
    --------
    Shares 0.01 and 0.10, alpha 0.05, beta 0.10, as in [4]: 0.0397, 0.9389 and 1.2054.

    >>> print("{:.4f} {:.4f} {:.4f}".format(*lines(0.01, 0.10, alpha=0.05, beta=0.10)))
    0.0397 -0.9389 1.2054

    Sources
    -------
    [1] Bolsin S, Colson M. The use of the Cusum technique in the assessment of trainee competence in new
        procedures. Int J Qual Health Care 2000;12:433-438.
    [2] de Oliveira Filho GR. The construction of learning curves for basic skills in anesthetic procedures:
        an application for the cumulative sum method. Anesth Analg 2002;95:411-416.
    [3] Wald A. Sequential Analysis. Wiley 1947.
    [4] NIST/SEMATECH e-Handbook of Statistical Methods, section 6.2.6.
    """
    if not 0 < acceptable < unacceptable < 1:
        raise ValueError(f"need 0 < acceptable < unacceptable < 1; got {acceptable} and {unacceptable}")
    up, down = log(unacceptable / acceptable), log((1 - acceptable) / (1 - unacceptable))
    return Lines(
        step=down / (up + down),
        lower=-log((1 - alpha) / beta) / (up + down),
        upper=log((1 - beta) / alpha) / (up + down),
    )


class Point(NamedTuple):
    """total: the sum after an attempt [failures]; crossed: 'lower', 'upper' or None."""

    total: float
    crossed: str | None


def walk(failures: list[bool], at: Lines) -> list[Point]:
    """The sum after each attempt. After a line is crossed the next attempt starts again from zero.

    >>> [round(point.total, 2) for point in walk([False, True, False], Lines(0.25, -2, 2))]
    [-0.25, 0.5, 0.25]
    """
    points, total = [], 0.0
    for failed in failures:
        total += (1 - at.step) if failed else -at.step
        crossed = "lower" if total <= at.lower else "upper" if total >= at.upper else None
        points.append(Point(total, crossed))
        if crossed:
            total = 0.0
    return points


def attempts(curve: Curve, roles: tuple[str, ...], rows: list[dict], events: dict[str, set[str]]) -> list[tuple]:
    """(case_id, day, failed) of a trainee's attempts in order of time, each case once.

    rows: the trainee's rows of the log in order of time. A case is an attempt where it fits every criterion
    for sure; it failed where one of the curve's failure events was charted or failure techniques used.
    """
    found: dict[str, tuple] = {}
    for row in rows:
        if fits(row, {"role": roles, **curve.criteria}):
            case = row["case_id"]
            failed = not events.get(case, set()).isdisjoint(curve.failure_events) or not row["technique"].isdisjoint(
                curve.failure_techniques
            )
            found.setdefault(case, (case, row["start_day"], failed))
    return list(found.values())


def table(asked: Programme, rows: list[dict], events: dict[str, set[str]]) -> list[tuple]:
    """Rows of trainee_curves: one an attempt, for the trainees who asked."""
    found = []
    for position, curve in enumerate(asked.curves, 1):
        at = lines(curve.acceptable, curve.unacceptable, curve.alpha, curve.beta)
        for person in curve.trainees:
            tried = attempts(curve, asked.roles, [row for row in rows if row["person"] == person], events)
            for number, ((case, day, failed), point) in enumerate(
                zip(tried, walk([failed for _, _, failed in tried], at), strict=True), 1
            ):
                found.append((person, position, curve.name, number, case, day, int(failed), *point))
    return found
