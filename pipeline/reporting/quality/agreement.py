"""Detected but not charted, charted but not seen."""

from pipeline.figures.cases import agreement
from pipeline.reporting.display import first_upper, words
from pipeline.reporting.frame import Column, Figure, Section, Table
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.reporting.review import YEAR, Review

MEASURES = (
    "hypotension",
    "hypoventilation",
    "hyperventilation",
    "hypoxemia",
    "hypothermia",
    "bradycardia",
    "tachycardia",
)
PARTS = ("both", "detected_only", "charted_only")


def section(review: Review) -> Section | None:
    results = review.results
    bars, cells = [], []
    for measure in MEASURES:
        rows = {part: results.row(f"agreement_{measure}_{part}", results.year) for part in PARTS}
        now = {part: results.row(f"agreement_{measure}_{part}") for part in PARTS}
        if rows["both"] is None or not any(row.denominator for row in rows.values()):
            continue
        counts = {part: row.numerator for part, row in rows.items()}
        bars.append({"label": first_upper(words(measure))} | counts)
        judged = next((row.denominator for row in rows.values() if row.denominator is not None), None)
        cells.append([first_upper(words(measure)), judged, rows["both"].not_assessable, *counts.values(),
                      *[now[part].numerator if now[part] else None for part in PARTS]])  # fmt: skip
    if not bars:
        return None
    columns = [Column("Condition"), Column("Judged", "count"), Column("Could not be judged", "count")]
    columns += [Column(f"{period}: {words}", "count") for period in (YEAR, review.short)
                for words in ("both", "detected, not charted", "charted, not seen")]  # fmt: skip
    note = f"A dash where the count is below {FEWEST_SHOWN} and withheld." if review.share else ""
    table = Table("agreement-table", "Readings beside what was charted", columns, cells, note)
    caption = (
        "Filled: found in the readings and charted. Hatched: found, nobody charted it. Open: charted, the readings do "
        f"not show it. The 12 months to {review.month}; cases judged for both."
    )
    return Section(
        "agreement",
        "Seen and written",
        "What did the monitors show that nobody charted, and what was charted that they do not show?",
        [Figure("agreement-figure", finding(bars), agreement(bars, "cases"), table, caption, "agreement")],
    )


def finding(bars: list[dict]) -> str:
    """Names the condition that most often went uncharted."""
    seen = {bar["label"]: (bar["both"] or 0) + (bar["detected_only"] or 0) for bar in bars}
    worst = max(bars, key=lambda bar: bar["detected_only"] or 0)
    missed = worst["detected_only"] or 0
    if not missed:
        return "Whatever the readings showed was charted"
    return f"{worst['label']} was found in {seen[worst['label']]:.0f} cases and not charted in {missed:.0f} of them"
