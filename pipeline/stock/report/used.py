"""What was used: drugs, inhalants, oxygen, absorbent, and for which patients."""

from pipeline.figures.months import lines, sticks
from pipeline.reporting.display import first_upper, listing, month_name, words
from pipeline.reporting.frame import Cell, Column, Figure, Fold, Grid, Section, Table
from pipeline.stock.report.view import YEAR, View, item_cell, unit_words

GROUPS = {
    "species": "species",
    "weight_band": "size",
    "technique": "technique",
    "procedure_group": "procedure",
}


def section(view: View) -> Section:
    gases = [figure for figure in (inhalants(view), oxygen(view)) if figure]
    items = [drugs(view), *([Grid(gases)] if gases else []), machines(view), months(view), *for_whom(view)]
    return Section(
        "use",
        "What we used",
        "How much of what, in which month, for which patients?",
        [item for item in items if item],
    )


def drugs(view: View) -> Table | None:
    """Each drug in mg, mL, packs given, wasted and opened, the month and the 12 months."""
    results, rows = view.results, []
    for row in results.levels("drug_mg", results.year, "drug"):
        for period, label in ((results.month, view.short), (results.year, YEAR)):
            found = {name: results.row(f"drug_{name}", period, "drug", row.level)
                     for name in ("mg", "ml", "packs", "wasted_ml", "packs_opened")}  # fmt: skip
            mg, wasted = found["mg"], found["wasted_ml"]
            if mg is None:
                continue
            values = [None if one is None else one.value for one in found.values()]
            uncharted = None if wasted is None else wasted.not_assessable
            rows.append(
                [words(row.level), label, mg.n, mg.not_assessable, *values[:3], values[3], uncharted, values[4]]
            )
    if not rows:
        return None
    columns = [
        Column("Drug"),
        Column("Period", "nowrap"),
        Column("Doses", "count"),
        Column("Unknown", "count"),
        Column("Given", "number", "mg"),
        Column("Given", "number", "mL"),
        Column("Given", "number", "packs"),
        Column("Wasted", "number", "mL"),
        Column("Waste not charted", "count"),
        Column("Opened", "number", "packs"),
    ]
    note = "Totals are of the doses whose amount is known; those that are not are counted beside them and add nothing."
    return Table("drugs", "Drugs given", columns, rows, note)


def inhalants(view: View) -> Figure | None:
    results = view.results
    agents = [row.level for row in results.levels("agent_liquid_ml", results.year, "agent")]
    if not agents:
        return None
    by_month = {agent: monthly(view, "agent_liquid_ml", "agent", agent) for agent in agents}
    spans = results.months
    hollow = unfinished(view)
    series = [
        {"label": agent, "values": [by_month[agent].get(month) for month in spans], "partial": hollow}
        for agent in agents
    ]
    year = [results.row("agent_liquid_ml", results.year, "agent", agent) for agent in agents]
    said = [f"{view.display.count(row.value)} mL of {row.level}" for row in year if row.value is not None]
    unknown = sum(row.not_assessable or 0 for row in year)
    finding = f"{first_upper(listing(said))} in 12 months" if said else "No inhalant could be computed"
    rows = [[month, *(by_month[agent].get(month) for agent in agents)] for month in spans]
    table = Table("inhalants-table", "Liquid inhalant, computed from flow and dial",
                  [Column("Month", "month"), *(Column(agent, "number", "mL") for agent in agents)], rows)  # fmt: skip
    caption = f"From fresh gas flow and dial. Hollow: not complete. {view.unknown(unknown)}"
    return Figure(
        "inhalants", finding, lines(spans, series, "mL a month", height=260), table, caption, "consumption", "half"
    )


def oxygen(view: View) -> Figure | None:
    series = view.results.series("oxygen_l")
    year = view.results.row("oxygen_l", view.results.year)
    if year is None or year.value is None:
        return None
    cylinder = view.rows("SELECT * FROM seed_cylinders WHERE cylinder = 'E'")[0]
    number = view.display.count
    finding = (
        f"{number(year.value)} L of oxygen in 12 months, as much as {number(year.value / cylinder['full_l'])} "
        f"E cylinders of {cylinder['full_l']:g} L"
    )
    columns = [Column("Month", "month"), Column("Oxygen", "number", "L", 0), Column("Cases unknown", "count")]
    cells = [[row.period, row.value, row.not_assessable] for row in series]
    table = Table("oxygen-table", "Oxygen", columns, cells)
    drawing = sticks([row.period for row in series], [row.value for row in series], "L a month",
                     partial=[row.partial for row in series], marked=view.results.month)  # fmt: skip
    caption = f"Diamond: the month reported. {view.unknown(year.not_assessable)}"
    return Figure("oxygen", finding, drawing, table, caption, "consumption", "half")


def machines(view: View) -> Table | None:
    """Absorbent of each machine: hours, marks and changes, the month and the 12 months."""
    results, rows = view.results, []
    names = ("absorbent_hours", "absorbent_marks", "absorbent_marks_expected", "absorbent_changes")
    for machine in results.levels("absorbent_hours", results.year, "machine_id"):
        for period, label in ((results.month, view.short), (results.year, YEAR)):
            found = [results.row(name, period, "machine_id", machine.level) for name in names]
            oxygen_row = results.row("oxygen_l", period, "machine_id", machine.level)
            hours = found[0]
            values = [None if one is None else one.value for one in (*found, oxygen_row)]
            rows.append([machine.level, label, *values, hours.not_assessable if hours else None])
    if not rows:
        return None
    columns = [Column("Machine"), Column("Period", "nowrap"), Column("On absorbent", "number", "h"),
               Column("Marks", "count"), Column("Marks expected", "count"), Column("Changes", "count"),
               Column("Oxygen", "number", "L", 0), Column("Cases not judged", "count")]  # fmt: skip
    return Table("machine-use", "Absorbent and oxygen by machine", columns, rows)


def months(view: View) -> Table | None:
    """What each item needed from the shelf in the 12 months."""
    rows = view.rows("SELECT * FROM item_demand ORDER BY item, month_no")
    shown = [month for month in dict.fromkeys(row["month"] for row in rows) if month <= view.results.month][-12:]
    if not shown:
        return None
    found: dict[tuple, dict[str, Cell | None]] = {}
    for row in rows:
        said = Cell(None, row["missing"]) if row["missing"] else view.quantity(row["demand"])
        found.setdefault((row["item"], row["base_unit"]), {})[row["month"]] = said
    columns = [
        Column("Item"),
        Column("Unit", "nowrap"),
        *(Column(month_name(month, short=True), "number") for month in shown),
    ]
    cells = [[item_cell(item), unit_words(unit), *(by_month.get(month) for month in shown)]
             for (item, unit), by_month in found.items()]  # fmt: skip
    note = "Charted, with what was thrown away after opening, brought to what left the shelf where that is known."
    return Table("item-months", "Items by month: what was needed from the shelf", columns, cells, note)


def item_months(view: View) -> Table:
    """Every item in every month, as charted, as needed, opened and thrown away."""
    rows = view.rows("SELECT * FROM item_demand ORDER BY item, month_no DESC")
    columns = [Column("Item"), Column("Month", "month"), Column("Unit", "nowrap"), Column("Charted", "number"),
               Column("Needed from the shelf", "number"), Column("Packs opened, computed", "number"),
               Column("Thrown away after opening, computed", "number"), Column("Missing")]  # fmt: skip
    cells = [[item_cell(row["item"]), row["month"], unit_words(row["base_unit"]), row["charted"], row["demand"],
              row["packs_opened"], row["discarded"], row["missing"] or ""] for row in rows]  # fmt: skip
    return Table("item-months-all", "Items by month", columns, cells)


def for_whom(view: View) -> list[Fold]:
    """Use of each item in the 12 months by species, size, technique and procedure."""
    folds = []
    for by, title in GROUPS.items():
        rows = view.rows(
            """SELECT item_use_groups.*, base_unit FROM item_use_groups JOIN stock_items USING (item)
               WHERE period = $period AND by_column = $by ORDER BY item, level_text""",
            period=view.results.year,
            by=by,
        )
        if not rows:
            continue
        levels = sorted({row["level_text"] for row in rows}, key=lambda level: (level == "not recorded", level))
        found: dict[tuple, dict[str, dict]] = {}
        for row in rows:
            found.setdefault((row["item"], row["base_unit"]), {})[row["level_text"]] = row
        columns = [
            Column("Item"),
            Column("Unit", "nowrap"),
            *(Column(first_upper(words(level)), "number") for level in levels),
        ]
        cells = [[item_cell(item), unit_words(unit), *(quantity(view, by_level.get(level)) for level in levels)]
                 for (item, unit), by_level in found.items()]  # fmt: skip
        note = "12 months; dash: none, or nothing known."
        if by == "technique":
            note += " A case counts in each of its techniques."
        folds.append(
            Fold(f"By {title}", [Table(f"use-by-{by.replace('_', '-')}", f"Use by {title}", columns, cells, note)])
        )
    return folds


def quantity(view: View, row: dict | None) -> Cell | None:
    """What a group used; withheld on a shared page where fewer than 5 cases stand behind it."""
    from pipeline.reporting.results import FEWEST_SHOWN

    if row is None or (view.share and row["cases"] < FEWEST_SHOWN):
        return None
    return view.quantity(row["qty"])


def unfinished(view: View) -> list[bool]:
    """For each month of the results, whether it is not complete."""
    partial = {row.period: row.partial for row in view.results.series("oxygen_l")}
    return [partial.get(month, False) for month in view.results.months]


def monthly(view: View, measure: str, by: str, level: str) -> dict[str, float | None]:
    """A measure of one level by month."""
    found = view.rows(
        """SELECT period, value FROM results WHERE measure = $measure AND "by" = $by AND level = $level
           AND length(period) = 7""",
        measure=measure, by=by, level=level,
    )  # fmt: skip
    return {row["period"]: row["value"] for row in found}
