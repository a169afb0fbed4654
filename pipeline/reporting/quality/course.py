"""When in the case: readings over the minutes since the start, the coldest point against the length, the hour."""

from pipeline.figures.cases import hours, scatter
from pipeline.figures.ribbons import ribbon
from pipeline.reporting.display import first_upper, month_number, slug, words
from pipeline.reporting.frame import Column, Figure, Grid, Table
from pipeline.reporting.queries import rows
from pipeline.reporting.review import Review

STEP_MIN, LONGEST_MIN, FEWEST_CASES, MOST_LEVELS = 10, 240, 10, 4
# parameter, grouping, title, limit measure of a dog for the dashed line, decimals
RIBBONS = (
    ("etco2", "ventilation", "end-tidal CO₂, mmHg", "hypoventilation"),
    ("temperature", "weight_band", "temperature, {unit}", "hypothermia"),
)


def months(review: Review) -> dict:
    return {"first": month_number(review.results.year[:7]), "last": month_number(review.results.month)}


def ribbons(review: Review, parameter: str, grouping: str, title: str, measure: str) -> Grid | None:
    """Small multiples, one a level, on one scale."""
    found = rows(review.db, "minute_quantiles", parameter=parameter, grouping=grouping, step=STEP_MIN, **months(review))
    levels: dict[str, list[dict]] = {}
    for row in found:
        if row["cases"] >= FEWEST_CASES and row["at_min"] <= LONGEST_MIN:
            levels.setdefault(row["level_text"], []).append(row)
    levels = {level: rows for level, rows in levels.items() if len(rows) >= 4}
    largest = sorted(levels, key=lambda level: (level == "not recorded", -levels[level][0]["cases"]))[:MOST_LEVELS]
    order = [row[0] for row in review.db.execute("SELECT band FROM seed_weight_bands ORDER BY over_kg").fetchall()]
    kept = [level for level in order if level in largest] or largest
    if not kept:
        return None
    show = review.display.celsius if parameter == "temperature" else float
    limit = line(review, parameter, measure)
    edges = [show(row[name]) for level in kept for row in levels[level] for name in ("q10", "q90")]
    edges += [limit[0]] if limit else []
    pad = (max(edges) - min(edges)) * 0.05
    span = (min(edges) - pad, max(edges) + pad)
    title = title.format(unit=review.display.temperature_unit)
    return Grid(
        [
            one_ribbon(
                review, parameter, level, levels[level], title, limit, span, show, "third" if len(kept) == 3 else "half"
            )
            for level in kept
        ]
    )


def one_ribbon(review, parameter, level, found, title, limit, span, show, size: str) -> Figure:
    id = f"course-{parameter}-{slug(level)}"
    quantiles = [[show(row[name]) for row in found] for name in ("q10", "q25", "q50", "q75", "q90")]
    middle = quantiles[2]
    number = review.display.number
    finding = f"{first_upper(words(level))}: median {number(middle[0])} at {found[0]['at_min']:.0f} min, "
    finding += f"{number(middle[-1])} {title.split(', ')[-1]} at {found[-1]['at_min']:.0f} min"
    table = Table(f"{id}-table", f"{title}, {words(level)}, by minutes since the start", [
        Column("Minutes", "count"), Column("Cases", "count"), Column("10%", "number"), Column("25%", "number"),
        Column("Median", "number"), Column("75%", "number"), Column("90%", "number")],
        [[row["at_min"], row["cases"], *[one[i] for one in quantiles]] for i, row in enumerate(found)])  # fmt: skip
    drawing = ribbon([row["at_min"] for row in found], quantiles, title, limits=[limit] if limit else [], span=span)
    caption = f"12 months, {found[0]['cases']} cases at first, {found[-1]['cases']} at the end; "
    caption += f"no point under {FEWEST_CASES}."
    return Figure(id, finding, drawing, table, caption, "temperature" if parameter == "temperature" else "limits", size)


def line(review: Review, parameter: str, measure: str) -> tuple[float, str] | None:
    """The limit most animals have, for the dashed line."""
    if parameter == "temperature":
        found = review.db.execute("SELECT max(below) FROM seed_temperature WHERE measure = ?", [measure]).fetchone()[0]
        return None if found is None else (review.display.celsius(found), words(measure))
    found = review.db.execute(
        "SELECT coalesce(max(above), max(below)) FROM seed_limits WHERE measure = ? AND species = 'dog'", [measure]
    ).fetchone()[0]
    return None if found is None else (found, words(measure))


def coldest(review: Review) -> Figure | None:
    """Lowest temperature of each case against its length."""
    points = [row for row in rows(review.db, "case_points", **months(review)) if row["anesthesia_min"]]
    if review.share or len(points) < FEWEST_CASES:
        return None
    show, last = review.display.celsius, month_number(review.results.month)
    cold = line(review, "temperature", "hypothermia")
    medians = []
    for start in range(0, LONGEST_MIN, 30):
        inside = sorted(row["lowest"] for row in points if start <= row["anesthesia_min"] < start + 30)
        if len(inside) >= FEWEST_CASES:
            medians.append((start + 15, len(inside), show(inside[len(inside) // 2])))
    drawing = scatter(
        [round(row["anesthesia_min"]) for row in points],
        [show(row["lowest"]) for row in points],
        [row["month_no"] == last for row in points],
        "minutes of anesthesia",
        f"lowest temperature, {review.display.temperature_unit}",
        beyond=(0, cold[0], cold[1]) if cold else None,
        line=([at for at, _, _ in medians], [value for _, _, value in medians]) if len(medians) > 1 else None,
    )
    number, unit = review.display.number, review.display.temperature_unit
    finding = "Longer anesthetics end colder" if falling(medians) else "Lowest temperature against length"
    if medians:
        finding += f": median {number(medians[0][2])} {unit} up to 30 min, {number(medians[-1][2])} {unit} "
        finding += f"from {medians[-1][0] - 15} to {medians[-1][0] + 15} min"
    table = Table("coldest-table", "Lowest temperature by length of the anesthetic", [
        Column("Minutes, middle of the class", "count"), Column("Cases", "count"),
        Column(f"Median of the lowest, {unit}", "number")], [list(row) for row in medians])  # fmt: skip
    count = review.display.count(len(points))
    caption = f"One mark a case of the 12 months ({count} with a temperature); diamond: {review.month}."
    return Figure("coldest", finding, drawing, table, caption, "temperature")


def falling(medians: list[tuple]) -> bool:
    values = [value for _, _, value in medians]
    return len(values) > 1 and all(a >= b for a, b in zip(values, values[1:], strict=False)) and values[0] > values[-1]


def time_of_day(review: Review) -> Figure | None:
    found = {row["start_hour"]: row for row in rows(review.db, "start_hours", **months(review))}
    if not found:
        return None
    counts = [found[hour]["cases"] if hour in found else 0 for hour in range(24)]
    if review.share:
        counts = [count if count >= FEWEST_CASES // 2 else 0 for count in counts]
    night = sum(count for hour, count in enumerate(counts) if hour < 7 or hour >= 19)
    finding = (
        f"{review.display.count(night)} of {review.display.count(sum(counts))} anesthetics began between 19:00 and 7:00"
    )
    cells = [[f"{hour:02d}:00", counts[hour], *(judged(found[hour], review.share) if hour in found else (0, None))]
             for hour in range(24) if counts[hour]]  # fmt: skip
    table = Table("hours-table", "Starts by hour of the day, 12 months", [
        Column("Hour"), Column("Cases", "count"), Column("Judged for a complication", "count"),
        Column("With a charted complication", "count")], cells)  # fmt: skip
    return Figure(
        "hours", finding, hours(counts, "cases"), table, "12 months; the clinic's own clock.", "periods", "half"
    )


def judged(row: dict, share: bool) -> tuple:
    return (row["judged"], None if share and row["having_it"] < FEWEST_CASES // 2 else row["having_it"])
