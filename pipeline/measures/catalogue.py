"""What is measured: the rows of sql/seeds/measures.csv, and the groups each kind stands by."""

from functools import cache
from typing import NamedTuple

from pipeline.models.seeds import read_seed

METHODS = {
    "share": "Wilson 95 %",
    "leak_share": "Wilson 95 %",
    "median": "median over cases",
    "quartile": "quartile over cases",
    "time_to_event": "Kaplan-Meier",
    "ratio": "ratio of sums",
    "total": "sum of known rows",
    "since_change": "sum of known rows",
    "trend": "Cochran-Armitage, scores 1 to 5",
    "log_rank": "log-rank, all groups",
    "observed_expected": "indirect standardisation, exact Poisson 95 %",
}

PARTIAL = "; partial"

# Groupings in which a trend over ASA class means nothing.
BY_ASA = ("asa_class", "asa_class x species")


class Measure(NamedTuple):
    """One measure of `results`. kind: which method; base: the measure it is a quantile or trend of;
    better: 'lower', 'higher' or '' (neither); place: where it stands in the file."""

    place: int
    measure: str
    kind: str
    unit: str
    base: str
    quantile: float | None
    title: str
    better: str
    section: str


def measures(*kinds: str) -> list[Measure]:
    """The measures of some kinds, or all, in the order they stand in the file."""
    return [row for row in _all() if not kinds or row.kind in kinds]


@cache
def _all() -> list[Measure]:
    return [
        Measure(place=place, **{**row, **{name: row[name] or "" for name in ("unit", "base", "better")}})
        for place, row in enumerate(read_seed("measures"))
    ]
