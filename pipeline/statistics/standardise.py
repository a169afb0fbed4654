"""Like with like: how many events the mix of cases led us to expect, and how many there were."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

MIX = ["asa_class", "species", "emergency"]
FEWEST_CASES = 20
FEWEST_MONTHS, MOST_MONTHS = 12, 24

# finest first; the last is the rate over everything
MERGES = [MIX, ["asa_class", "species"], ["asa_class"], []]


@dataclass(frozen=True, slots=True)
class Reference:
    """Rates the judged cases are held against: at each level of MERGES, cell -> (events, cases)."""

    levels: tuple[dict[tuple, tuple[float, float]], ...]

    def cell_for(self, mix: tuple) -> tuple[tuple, float, float] | None:
        """The finest cell that holds 20 reference cases: its key, events and cases; None where not even all do.

        mix : asa_class, species, emergency of a case; None for what is not recorded, a level of its own.
        """
        for columns, cells in zip(MERGES, self.levels, strict=True):
            key = mix[: len(columns)]
            events, cases = cells.get(key, (0.0, 0.0))
            if cases >= FEWEST_CASES:
                return key, events, cases
        return None


def reference_months(complete: list[str], judged: str) -> list[str]:
    """The complete months before the judged one that make its reference: the last 24, or none if under 12.

    >>> reference_months([f"2025-{month:02}" for month in range(1, 13)], "2025-12")
    []
    >>> reference_months([f"2025-{month:02}" for month in range(1, 13)], "2026-01")[0]
    '2025-01'
    """
    before = sorted(month for month in complete if month < judged)
    return before[-MOST_MONTHS:] if len(before) >= FEWEST_MONTHS else []


def reference(counts: pd.DataFrame) -> Reference:
    """Reference rates from counted cases, of our own past or of a table.

    counts : columns asa_class, species, emergency (missing: not recorded), events, cases [count]; any number of
        rows a cell. A published table that does not tell species or emergency apart leaves them missing and
        serves by its ASA classes.
    """
    return _reference(_keyed(counts))


def _reference(rows: list[tuple[tuple, float, float]]) -> Reference:
    levels = []
    for columns in MERGES:
        cells: dict[tuple, tuple[float, float]] = {}
        for mix, events, cases in rows:
            key = mix[: len(columns)]
            before = cells.get(key, (0.0, 0.0))
            cells[key] = (before[0] + events, before[1] + cases)
        levels.append(cells)
        rows = [(key, *counted) for key, counted in cells.items()]
    return Reference(tuple(levels))


def expected(judged: pd.DataFrame, against: Reference) -> np.ndarray:
    """Events expected in each row of judged cases: its cases times the rate of its cell.

    judged : columns asa_class, species, emergency and cases [count]; one row a case (cases = 1) or a cell.
    Returns one number a row; NaN throughout where the reference holds under 20 cases in all.

    Indirect standardisation: O/E over any group is Σ events / Σ expected of its rows, with
    `poisson.observed_over_expected` for the limits. Ratios of two groups are not comparable with each other
    where their mixes differ; each is comparable with 1.

    Source: Breslow NE, Day NE. Statistical methods in cancer research, vol. II. IARC 1987, section 2.3.
    """
    return np.array([_expected(mix, cases, against) for mix, _, cases in _keyed(judged.assign(events=0))], float)


def _expected(mix: tuple, cases: float, against: Reference) -> float:
    cell = against.cell_for(mix)
    return np.nan if cell is None else cases * cell[1] / cell[2]


def merged(judged: pd.DataFrame, against: Reference) -> dict[str, float]:
    """How many judged cases were held against a cell of each level, for the page's footnote [count].

    Keys 'asa_class x species x emergency', 'asa_class x species', 'asa_class', 'all', 'none'.
    """
    names = [" x ".join(columns) or "all" for columns in MERGES]
    tally = dict.fromkeys([*names, "none"], 0.0)
    for mix, _, cases in _keyed(judged.assign(events=0)):
        cell = against.cell_for(mix)
        tally["none" if cell is None else names[len(MIX) - len(cell[0])]] += cases
    return tally


def by_month(counts: pd.DataFrame, complete: list[str]) -> pd.DataFrame:
    """Observed and expected events of every complete month, each month held against the 12 to 24 before it.

    counts : columns month 'YYYY-MM', asa_class, species, emergency, events, cases, and level where groups are to
        be told apart (a site, a procedure group); one row a cell
    Returns month, level, cases, observed, expected; months without a reference are not in it. Over a period,
    O/E is the sum of observed over the sum of expected of its months: all levels share one reference, so each
    is held against the whole clinic's past.
    """
    complete = sorted(complete)
    keyed, levels = _keyed(counts), counts["level"] if "level" in counts else ["all"] * len(counts)
    by_month: dict[str, list] = {month: [] for month in complete}
    for month, level, row in zip(counts["month"], levels, keyed, strict=True):
        if month in by_month:
            by_month[month].append((level, *row))
    rows = []
    for month in complete:
        before = reference_months(complete, month)
        if not before:
            continue
        against = _reference([row for one in before for _, *row in by_month[one]])
        rows += [(month, level, cases, events, _expected(mix, cases, against))
                 for level, mix, events, cases in by_month[month]]  # fmt: skip
    found = pd.DataFrame(rows, columns=["month", "level", "cases", "observed", "expected"])
    return found.groupby(["month", "level"], as_index=False)[["cases", "observed", "expected"]].sum(min_count=1)


def observed_minus_expected(observed: np.ndarray, expected: np.ndarray) -> np.ndarray:
    """Running sum of observed - expected, in the order given [events]: level where the past goes on, rising by
    one for each event more than expected."""
    return np.cumsum(np.asarray(observed, float) - np.asarray(expected, float))


def _keyed(frame: pd.DataFrame) -> list[tuple[tuple, float, float]]:
    mixes = frame[MIX].astype(object).where(frame[MIX].notna(), None)
    return [
        (mix, float(events), float(cases))
        for mix, events, cases in zip(
            mixes.itertuples(index=False, name=None), frame["events"], frame["cases"], strict=True
        )
    ]
