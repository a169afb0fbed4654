"""The next three months of every item, and how good such forecasts were before."""

from pipeline.figures.months import lines
from pipeline.figures.theme import plain
from pipeline.forecasting.methods import METHODS
from pipeline.reporting.display import month_name, month_text
from pipeline.reporting.frame import Cell, Column, Figure, Grid, Section, Table
from pipeline.stock.report.view import View, item_cell, item_words, unit_words

DRAWN = 6
WORDS = {method.name: method.words for method in METHODS} | {"caseload": "expected cases times use a case"}


def section(view: View) -> Section:
    ahead = view.rows("SELECT * FROM forecasts ORDER BY item, month_no")
    if not ahead:
        return Section("forecast", "What comes", "How much will be needed?", ["No complete month is loaded yet."])
    months = sorted({row["month"] for row in ahead})
    figures = [drawn(view, item, place) for place, item in enumerate(dearest(view), start=1)]
    items = [Grid(figures), next_months(view, ahead, months), past(view), planned(view)]
    return Section(
        "forecast",
        "What comes",
        "How much of each item will the next three months need, and how good were such forecasts before?",
        [item for item in items if item],
    )


def dearest(view: View) -> list[str]:
    """The items whose next three months cost most, then those that need most packs."""
    rows = view.rows(
        """
        SELECT forecasts.item FROM forecasts JOIN stock_items USING (item)
        GROUP BY forecasts.item, price, pack_size HAVING sum(mean) > 0
        ORDER BY sum(mean) / pack_size * price DESC NULLS LAST, sum(mean) / pack_size DESC NULLS LAST, forecasts.item
        LIMIT $most
        """,
        most=DRAWN,
    )
    return [row["item"] for row in rows]


def drawn(view: View, item: str, place: int) -> Figure:
    """Past demand and forecast of one item, the place-th on the page."""
    past = view.rows("SELECT * FROM item_demand WHERE item = $item ORDER BY month_no", item=item)[-24:]
    ahead = view.rows("SELECT * FROM forecasts WHERE item = $item ORDER BY month_no", item=item)
    method = view.rows("SELECT * FROM forecast_methods WHERE item = $item", item=item)[0]
    unit = ahead[0]["base_unit"]
    before, after = [None] * len(past), [None] * len(ahead)
    series = [
        {"label": "", "values": [row["demand"] for row in past] + after},
        {
            "label": "",
            "values": before + [row["mean"] for row in ahead],
            "low": before + [row["low_80"] for row in ahead],
            "high": before + [row["high_80"] for row in ahead],
        },
    ]
    total = sum(row["mean"] for row in ahead)
    first, last = ahead[0], ahead[-1]
    finding = (
        f"{item_words(item)}: {view.amount(total, unit)} from {month_name(first['month'], short=True)} to "
        f"{month_name(last['month'], short=True)}"
    )
    table = Table(
        f"forecast-{place}",
        f"{item_words(item)}, {unit_words(unit)} a month",
        [Column("Month", "month"), Column("Needed", "number"), Column("80% range", "range"),
         Column("95% range", "range"), Column("")],
        [[row["month"], view.quantity(row["demand"]), None, None, row["missing"] or "past"] for row in past]
        + [[row["month"], view.quantity(row["mean"]), view.span(row["low_80"], row["high_80"]),
            view.span(row["low_95"], row["high_95"]), "forecast"] for row in ahead],
    )  # fmt: skip
    caption = f"Line: past demand. Diamonds and band: forecast with its 80% range. {method['why']}"
    drawing = lines([row["month"] for row in past + ahead], series, plain(unit_words(unit)), height=240)
    return Figure(f"fan-{place}", finding, drawing, table, caption, "forecast", "half")


def next_months(view: View, ahead: list[dict], months: list[str]) -> Table:
    by_item: dict[str, dict[str, dict]] = {}
    for row in ahead:
        by_item.setdefault(row["item"], {})[row["month"]] = row
    columns = [Column("Item"), Column("Unit", "nowrap")]
    for month in months:
        columns += [Column(month_name(month, short=True), "number"), Column("80% range", "range")]
    rows = []
    for item, found in by_item.items():
        row = [item_cell(item), unit_words(next(iter(found.values()))["base_unit"])]
        for month in months:
            one = found.get(month)
            row += [view.quantity(one["mean"]), view.span(one["low_80"], one["high_80"])] if one else [None, None]
        rows.append(row)
    return Table("next-months", "Demand of the next three months", columns, rows,
                 "Packs thrown away half full are in it, planned changes too.")  # fmt: skip


def past(view: View) -> Table:
    """How good each item's method was: MASE against seasonal naive, and how often the ranges held."""
    rows = []
    for one in view.rows("SELECT * FROM forecast_methods ORDER BY item"):
        judged = one["origins"] > 0
        rows.append([
            item_cell(one["item"]),
            WORDS[one["method"]] if judged else one["why"],
            one["mase"],
            WORDS[one["next_best"]] if one["next_best"] else None,
            one["next_mase"],
            one["naive_mase"],
            held(one["held_80"], one["judged_80"]),
            held(one["held_95"], one["judged_95"]),
            one["months_missing"],
        ])  # fmt: skip
    columns = [
        Column("Item"),
        Column("Method"),
        Column("MASE", "number", digits=2),
        Column("Next best"),
        Column("Its MASE", "number", digits=2),
        Column("Same month last year", "number", digits=2),
        Column("80% range held"),
        Column("95% range held"),
        Column("Months missing", "count"),
    ]
    note = (
        "MASE: mean absolute miss over the mean change between months (from the same month a year before; under 24 "
        "months from the month before); smaller is better. Ranges held: of the past months that were forecast."
    )
    return Table("past-forecasts", "How good past forecasts were", columns, rows, note)


def held(inside: int, judged: int) -> Cell:
    """'29 of 33'."""
    return Cell(inside / judged if judged else None, f"{inside}\u00a0of\u00a0{judged}" if judged else None)


def planned(view: View) -> str | None:
    from pipeline.forecasting.planned import read

    plans = read(view.settings.planned)
    if not plans:
        return None
    said = []
    for plan in plans:
        cases = " ".join(word for word in (plan.species, plan.procedure_group) if word) or "all"
        if plan.closed:
            what = "closed"
        elif plan.more_cases is not None:
            what = f"{view.display.number(plan.more_cases, 0)} more {cases} cases a month"
        else:
            what = f"{view.display.number(plan.more_days, 0)} more days of {cases} cases a month"
        until = "" if plan.last is None else f" until {month_name(month_text(plan.last))}"
        said.append(f"{what} from {month_name(month_text(plan.first))}{until}")
    return "Planned in clinic.toml, and in every forecast above: " + "; ".join(said) + "."
