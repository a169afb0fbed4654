"""Observed against what the mix of cases led us to expect, by month, case by case, and by group."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.figures.mix import cumulative, funnel, ratios
from pipeline.reporting.display import first_upper, listing, month_name, month_number, month_text, words
from pipeline.reporting.frame import Column, Figure, Grid, Section, Table
from pipeline.reporting.queries import frame
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.reporting.review import SHOWN_MONTHS, Review, level_words

MEASURES = ("complication", "hypothermia")
GROUPS = ("procedure_group", "site")
FEWEST_GROUPS = 3
MOST_POINTS = 900


@dataclass(frozen=True, slots=True)
class Held:
    """A month held against the complete months before it."""

    month: str
    observed: float
    expected: float
    ratio: float | None
    low: float | None
    high: float | None


def section(review: Review) -> Section | None:
    items = []
    for measure in MEASURES:
        held = months(review, measure)
        if held:
            pair = [by_month(review, measure, held), None if review.share else running(review, measure)]
            items.append(Grid([figure for figure in pair if figure]))
    items += [figure for by in GROUPS if (figure := by_group(review, "complication", by))]
    if not items:
        return None
    return Section("expected", "Against the case mix", "Did sicker or other patients come, or did we do worse?", items)


def counts(review: Review, measure: str) -> pd.DataFrame:
    found = frame(review.db, "mix_counts", measure=measure)
    return found.assign(month=found["month_no"].map(month_text)) if len(found) else found


def complete(review: Review) -> list[str]:
    """Complete months with a case, to the one under review."""
    return [row.period for row in review.results.series("complication")
            if not row.partial and row.n and row.period <= review.results.month]  # fmt: skip


def months(review: Review, measure: str) -> list[Held]:
    """The last complete months that have at least 12 complete months before them, to the one under review."""
    from pipeline.statistics.poisson import observed_over_expected
    from pipeline.statistics.standardise import MOST_MONTHS
    from pipeline.statistics.standardise import by_month as held_by_month

    table = counts(review, measure)
    if table.empty:
        return []
    held = []
    known = complete(review)[-SHOWN_MONTHS - MOST_MONTHS :]
    for row in held_by_month(table[table["month"].isin(known)], known).tail(SHOWN_MONTHS).itertuples():
        ratio = observed_over_expected(row.observed, row.expected)
        value, low, high = (float(part) if np.isfinite(part) else None for part in ratio)
        small = review.share and row.observed < FEWEST_SHOWN
        shown = (None,) * 3 if small else (value, low, high)
        held.append(Held(row.month, float(row.observed), float(row.expected), *shown))
    return held


def by_month(review: Review, measure: str, held: list[Held]) -> Figure:
    last, number = held[-1], review.display.number
    name = first_upper(words(measure))
    if last.ratio is None:
        finding = f"{name}: no ratio for {review.month}"
    else:
        finding = (
            f"{name} in {review.month}: {last.observed:.0f} observed, {number(last.expected)} expected from the mix; "
        )
        finding += f"ratio {number(last.ratio, 2)} ({number(last.low, 2)} to {number(last.high, 2)})"
    id = f"expected-{measure.replace('_', '-')}"
    table = Table(
        f"{id}-table",
        f"{name}: observed and expected by month",
        [
            Column("Month", "month"),
            Column("Observed", "count"),
            Column("Expected", "number"),
            Column("Ratio", "number", digits=2),
            Column("95% low", "number", digits=2),
            Column("95% high", "number", digits=2),
        ],
        [
            [one.month, None if one.ratio is None else one.observed, one.expected, one.ratio, one.low, one.high]
            for one in held
        ],
    )
    drawing = ratios(
        [one.month for one in held],
        [{"value": one.ratio, "low": one.low, "high": one.high} for one in held],
        "observed / expected",
        review.results.month,
    )
    caption = (
        "Expected: what the 12 to 24 complete months before had in patients of the same ASA class, species and "
        "urgency. Exact Poisson interval."
    )
    return Figure(id, finding, drawing, table, caption, "expected", "half")


def running(review: Review, measure: str) -> Figure | None:
    """Cumulative observed minus expected over the 12 months, each month against its own past. Case by case, so not
    for a page that is shared."""
    from pipeline.statistics.cusum import risk_adjusted
    from pipeline.statistics.standardise import expected, observed_minus_expected, reference, reference_months

    table, known = counts(review, measure), complete(review)
    cases = frame(review.db, "case_order", measure=measure, first=month_number(review.results.year[:7]),
                  last=month_number(review.results.month))  # fmt: skip
    cases["month"], cases["cases"] = cases["month_no"].map(month_text), 1
    parts = []
    for month, now in cases.groupby("month", sort=True):
        before = reference_months(known, month)
        if before:
            parts.append(now.assign(risk=expected(now, reference(table[table["month"].isin(before)]))))
    if not parts:
        return None
    judged = pd.concat(parts, ignore_index=True).dropna(subset="risk")
    sums = observed_minus_expected(judged["has"], judged["risk"])
    chance = risk_adjusted(judged["has"], judged["risk"].clip(1e-4, 1 - 1e-4))
    ends = [(int(place) + 1, month) for month, place in judged.groupby("month").apply(lambda part: part.index[-1],
            include_groups=False).items()]  # fmt: skip
    first = judged.index[judged["month"] == review.results.month]
    name, total = first_upper(words(measure)), float(sums[-1])
    way = "more" if total > 0 else "fewer"
    finding = f"{name}: {review.display.number(abs(total))} {way} than expected over {len(ends)} months"
    if chance.first is not None:
        finding += f"; the odds-doubled sum crosses its limit in {month_name(judged['month'][chance.first])}"
    id = f"running-{measure.replace('_', '-')}"
    table = Table(f"{id}-table", f"{name}: running sum at the end of each month", [
        Column("Month", "month"), Column("Cases", "count"), Column("Observed minus expected", "number")],
        [[month, place, float(sums[place - 1])] for place, month in ends])  # fmt: skip
    step = -(-len(sums) // MOST_POINTS)
    kept = [*range(0, len(sums) - 1, step), len(sums) - 1]
    drawing = cumulative([place + 1 for place in kept], [round(float(sums[place]), 2) for place in kept], ends,
                         "observed − expected", int(first[0]) + 1 if len(first) else None)  # fmt: skip
    caption = (
        "Level: as many as the mix led us to expect. Thick: the month under review. Risk-adjusted CUSUM for doubled "
        f"odds: limit {review.display.number(chance.limit, 2)} {'not ' * (chance.first is None)}crossed."
    )
    return Figure(id, finding, drawing, table, caption, "expected", "half")


def by_group(review: Review, measure: str, by: str) -> Figure | None:
    """Groups in their funnel over the 12 months."""
    from pipeline.statistics.funnel import funnel as limits_of

    found = [row for row in review.results.levels(measure, review.results.year, by)
             if row.level != "not recorded" and row.denominator]  # fmt: skip
    if len(found) < FEWEST_GROUPS:
        return None
    events, cases = np.array([row.numerator for row in found]), np.array([row.denominator for row in found])
    ours = limits_of(events, cases)
    if ours is None:
        return None
    sizes = np.unique(np.linspace(5, cases.max() * 1.05, 60).round())
    curve = _curve(ours, sizes)
    groups = [{"label": level_words(by, row.level), "cases": row.denominator, "value": row.value,
               "out": bool(row.value > high or row.value < low)}
              for row, low, high in zip(found, ours.low_998, ours.high_998, strict=True)]  # fmt: skip
    out = [group["label"] for group in groups if group["out"]]
    finding = f"{listing(out)}: beyond what chance gives a group of that size" if out else \
        f"No {words(by)} differs from the rest by more than chance gives its size"  # fmt: skip
    id = f"funnel-{by.replace('_', '-')}"
    table = Table(
        f"{id}-table",
        f"{first_upper(words(measure))} by {words(by)}, 12 months",
        [
            Column(first_upper(words(by))),
            Column("Judged", "count"),
            Column("Had it", "count"),
            Column("Share", "share"),
            Column("95% limits", "interval"),
            Column("99.8% limits", "interval"),
        ],
        [
            [level_words(by, row.level), row.denominator, row.numerator, row.value, (low, high), (least, most)]
            for row, low, high, least, most in zip(
                found, ours.low_95, ours.high_95, ours.low_998, ours.high_998, strict=True
            )
        ],
    )
    caption = (
        f"Lines: exact binomial limits around the share of all, {review.display.share(ours.target)}; dotted: widened "
        "for spread between groups. Not adjusted for case mix."
    )
    return Figure(
        id, finding, funnel(groups, curve, ours.target, "cases with a complication"), table, caption, "expected"
    )


def _curve(ours, sizes: np.ndarray) -> dict:
    from scipy.special import ndtri

    from pipeline.statistics.funnel import ALARM, WARNING, binomial_limits

    low_95, high_95 = binomial_limits(sizes, ours.target, WARNING)
    low_998, high_998 = binomial_limits(sizes, ours.target, ALARM)
    wide = ndtri((1 + ALARM) / 2) * np.sqrt(ours.target * (1 - ours.target) / sizes + ours.tau2)
    curve = {
        "cases": sizes,
        "low_95": low_95,
        "high_95": high_95,
        "low_998": low_998,
        "high_998": high_998,
        "wide_low_998": np.maximum(ours.target - wide, 0),
        "wide_high_998": np.minimum(ours.target + wide, 1),
    }
    return {name: [round(float(value), 5) for value in values] for name, values in curve.items()}
