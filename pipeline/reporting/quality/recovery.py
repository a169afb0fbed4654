"""Recovery: minutes from the end of the agent to each stage, cases not watched to the end included."""

from pipeline.figures.survival import waiting
from pipeline.reporting.display import first_upper, month_number, words
from pipeline.reporting.frame import Column, Figure, Grid, Section, Table
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.reporting.review import YEAR, Review, rate_figure

STAGES = {
    "to_extubation": ("extubation", "extubated"),
    "to_sternal": ("lying on the sternum", "lying on the sternum"),
    "to_standing": ("standing", "standing"),
    "to_handover": ("handover to the ward", "handed over"),
}


def section(review: Review) -> Section:
    curves = [curve(review, measure) for measure in STAGES]
    items = [Grid([figure for figure in curves if figure])] if any(curves) else []
    prolonged = long_ones(review)
    return Section(
        "recovery",
        "Recovery",
        "How long from the vaporizer off to each stage?",
        [*items, stages(review), *([prolonged] if prolonged else [])],
    )


def times(review: Review, measure: str, first: str, last: str) -> tuple[list[float], list[int]]:
    """Minutes and whether the stage was seen, of the cases of those months."""
    rows = review.db.execute(
        """SELECT case_stages.minutes, case_stages.seen FROM case_stages
        INNER JOIN case_windows ON case_windows.case_id = case_stages.case_id
        WHERE case_stages.measure = ? AND case_windows.month_no BETWEEN ? AND ?
        ORDER BY case_stages.minutes, case_stages.seen DESC""",
        [measure, month_number(first), month_number(last)],
    ).fetchall()
    return [row[0] for row in rows], [row[1] for row in rows]


def curve(review: Review, measure: str) -> Figure | None:
    from pipeline.statistics.survival import kaplan_meier

    results, (stage, done) = review.results, STAGES[measure]
    periods = ((results.year, results.year[:7], YEAR), (results.month, results.month, review.short))
    drawn, end = [], 10.0
    for period, first, label in periods:
        row = results.row(measure, period)
        if row is None or not row.denominator or (review.share and row.denominator < 4 * FEWEST_SHOWN):
            continue
        minutes, seen = times(review, measure, first, results.month)
        found = kaplan_meier(minutes, seen)
        end = max(end, found.quantile(0.97) or found.last)
        drawn.append({
            "label": label, "minutes": found.minutes.tolist(), "still": found.still.tolist(),
            "censored": sorted({minute for minute, was in zip(minutes, seen, strict=True) if not was}),
            "at_risk": lambda ticks, found=found: at_risk(found, ticks, review),
            "median": row.value, "median_low": row.low, "median_high": row.high,
        })  # fmt: skip
    if not drawn:
        return None
    drawing = waiting(drawn, "minutes since the agent was turned off", f"not yet {done}", end)
    year, now = results.row(measure, results.year), results.row(measure)
    caption = f"12 months: {review.judged(year)}"
    if year.numerator is not None:
        caption += f", {review.display.count(year.denominator - year.numerator)} not watched to the end (ticks)"
    caption += ". Mark at one half: median and its 95% interval. Below: cases still waiting."
    return Figure(f"{measure.replace('_', '-')}-curve", median_finding(review, stage, year, now), drawing,
                  step_table(measure, stage, drawn), caption, "recovery", "half")  # fmt: skip


def at_risk(found, ticks: list[float], review: Review) -> list[str]:
    """Cases still waiting at each tick, in words."""
    counts = found.waiting_at(ticks).tolist()
    return [
        f"<{FEWEST_SHOWN}" if review.share and count < FEWEST_SHOWN else review.display.count(count) for count in counts
    ]


def median_finding(review: Review, stage: str, year, now) -> str:
    minutes = review.display.number
    if year.value is None:
        return f"Half of the cases did not reach {stage} while they were watched"
    out = f"{first_upper(stage)}: half within {minutes(year.value, 0)} min over 12 months"
    return out + (f", {minutes(now.value, 0)} min in {review.short}" if now and now.value is not None else "")


def step_table(measure: str, stage: str, drawn: list[dict]) -> Table:
    """The curves at round minutes, so that the figure can be read without seeing it."""
    rows = []
    for one in drawn:
        for minute in (5, 10, 15, 20, 30, 45, 60, 90, 120):
            share = 1.0
            for time, left in zip(one["minutes"], one["still"], strict=True):
                if time > minute:
                    break
                share = left
            waiting_now = one["at_risk"]([minute])[0]
            if waiting_now == "0" and share in (0.0, 1.0):
                break
            rows.append([one["label"], minute, share, waiting_now])
    columns = [Column("Period"), Column("Minutes", "count"), Column(f"Not yet: {stage}", "share"),
               Column("Cases still waiting", "number", digits=0)]  # fmt: skip
    return Table(f"{measure.replace('_', '-')}-steps", f"Share of cases that had not reached {stage}", columns, rows)


def stages(review: Review) -> Table:
    rows = []
    for measure, (stage, _) in STAGES.items():
        for period, label in ((review.results.year, YEAR), (review.results.month, review.short)):
            row = review.results.row(measure, period)
            if row is None:
                continue
            q1, q3 = (review.results.row(f"{measure}_{name}", period) for name in ("q1", "q3"))
            rows.append([
                first_upper(stage), label, row.denominator, row.numerator,
                None if row.denominator is None else row.denominator - row.numerator, row.not_assessable,
                row.value, (row.low, row.high), (q1.value if q1 else None, q3.value if q3 else None),
            ])  # fmt: skip
    columns = [
        Column("Stage"),
        Column("Period", "nowrap"),
        Column("Cases entered", "count"),
        Column("Seen", "count"),
        Column("Not watched to the end", "count"),
        Column("Could not be judged", "count"),
        Column("Median", "minutes", digits=0),
        Column("95% interval", "range", "min", digits=0),
        Column("Middle half", "range", "min", digits=0),
    ]
    note = "Kaplan-Meier: a case that was not watched to the stage counts as long as it was watched. Dash: not reached."
    return Table("stages", "Stage times", columns, rows, note)


def long_ones(review: Review) -> Figure | None:
    results = review.results
    rows = [("All cases", results.row("prolonged_recovery", results.year), results.row("prolonged_recovery"))]
    for by in ("agent", "species", "ventilation"):
        for row in results.levels("prolonged_recovery", results.year, by):
            label = f"{first_upper(words(row.level))} ({by})"
            rows.append((label, row, results.row("prolonged_recovery", None, by, row.level)))
    if rows[0][1] is None:
        return None
    whole = rows[0][1]
    return rate_figure(
        "prolonged-recovery",
        f"Not on the sternum 30 min after the agent: {review.rate(whole)} over 12 months",
        rows,
        review,
        first="Group",
        title="cases with a prolonged recovery",
        caption=f"Dot with 95% interval: 12 months. Diamond: {review.month}. 12 months: {review.judged(whole)}.",
        method="recovery",
    )
