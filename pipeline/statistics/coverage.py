"""How often an interval holds the truth: drawn, and summed exactly. `python -m pipeline.statistics.coverage`."""

from typing import NamedTuple

import numpy as np
from scipy.stats import binom

from pipeline.statistics.proportions import exact, wilson

METHODS = {"Wilson": wilson, "exact": exact}
CASES = (5, 10, 20, 50, 100, 200, 500)
SHARES = (0.001, 0.005, 0.01, 0.05, 0.1, 0.2, 0.3, 0.5)
DRAWS, SEED = 20_000, 20260101


class Coverage(NamedTuple):
    """drawn: share of drawn samples whose interval holds the truth; summed: the same by summing the binomial
    probabilities of every count; error: Monte Carlo standard error of drawn."""

    drawn: float
    summed: float
    error: float


def coverage(method: str, cases: int, share: float, draws: int = DRAWS, seed: int = SEED) -> Coverage:
    """Coverage of a 95 % interval where so many cases have it with probability share.

    method : a key of METHODS
    """
    low, high = METHODS[method](np.arange(cases + 1), cases)
    holds = (low <= share) & (share <= high)
    drawn = holds[np.random.default_rng(seed).binomial(cases, share, draws)].mean()
    summed = float(binom.pmf(np.arange(cases + 1), cases, share) @ holds)
    return Coverage(float(drawn), summed, float(np.sqrt(summed * (1 - summed) / draws)))


def as_markdown() -> str:
    """The table of DEVELOPERS.md: coverage in percent, drawn, one row a share and method."""
    lines = [
        "| share | interval | " + " | ".join(f"n {cases}" for cases in CASES) + " |",
        "| --- | --- |" + " ---: |" * len(CASES),
    ]
    for share in SHARES:
        for method in METHODS:
            found = [f"{100 * coverage(method, cases, share).drawn:.1f}" for cases in CASES]
            lines.append(f"| {share:g} | {method} | " + " | ".join(found) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(as_markdown())
