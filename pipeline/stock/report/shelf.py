"""What the store says beside what the records say; inhalants beside fills; lots that expire."""

from pipeline.reporting.display import listing, month_number, month_text
from pipeline.reporting.frame import Column, Fold, Section, Table
from pipeline.stock.report.view import View, item_cell, unit_words

ALL = "all inhalants"
SOURCES = {
    "records": "records",
    "supplied": "store's issues",
    "counts": "counts",
    "none": "nothing known",
}


def section(view: View) -> Section:
    items = [beside(view), unassigned(view), *inhalants(view), expiring(view), differences(view)]
    return Section(
        "shelf",
        "The store beside the records",
        "Does the shelf lose what the records say was used, and what will expire?",
        [item for item in items if item],
    )


def beside(view: View) -> Table | None:
    """Shelf over records for every item, between its counts of the last year."""
    rows = view.rows("""
        SELECT methods.item, stock_items.base_unit, demand_from, shelf_ratio, shelf_said,
            unknown, uses, counted_on, on_hand
        FROM forecast_methods AS methods
        JOIN stock_items ON stock_items.item = methods.item
        LEFT JOIN (SELECT item, count(*) AS uses, count(*) - count(qty) AS unknown FROM item_use GROUP BY item)
            AS charted ON charted.item = methods.item
        LEFT JOIN (SELECT item, max(moved_day) AS counted_on FROM stock_moves
                   WHERE movement = 'counted' AND qty IS NOT NULL GROUP BY item) AS counts ON counts.item = methods.item
        LEFT JOIN order_sheet ON order_sheet.item = methods.item
        ORDER BY methods.item
    """)
    if not rows:
        return None
    columns = [Column("Item"), Column("There", "nowrap"), Column("Last counted", "day"), Column("Demand from"),
               Column("Uses charted", "count"), Column("Of unknown amount", "count"),
               Column("Shelf over records", "number", digits=2), Column("In the forecast")]  # fmt: skip
    cells = [
        [item_cell(row["item"]), view.amount(row["on_hand"], row["base_unit"]), row["counted_on"],
         SOURCES[row["demand_from"]], row["uses"], row["unknown"],
         row["shelf_ratio"], row["shelf_said"]]
        for row in rows
    ]  # fmt: skip
    note = (
        "Over 1: more left the shelf than was charted (waste, doses of unknown amount, packs thrown away). Forecasts "
        "are raised or lowered by it; too far from 1, they go by the shelf alone: look at open_days and at the charts."
    )
    return Table("shelf-beside-records", "What left the shelf over what was charted", columns, cells, note)


def unassigned(view: View) -> str | None:
    """Doses of drugs on the shelf that no item could be held for."""
    rows = view.rows("""
        WITH given AS (SELECT drug, count(*) AS doses FROM drug_doses GROUP BY drug),
        held AS (SELECT drug, count(*) AS doses FROM item_use JOIN stock_items USING (item) GROUP BY drug)
        SELECT given.drug, given.doses - coalesce(held.doses, 0) AS doses
        FROM given LEFT JOIN held USING (drug)
        WHERE given.drug IN (SELECT drug FROM stock_items) AND given.doses > coalesce(held.doses, 0) ORDER BY 2 DESC, 1
    """)
    if not rows:
        return None
    said = listing([f"{view.display.count(row['doses'])} of {row['drug']}" for row in rows])
    return f"Doses that do not say which of several items of the drug they came from, and are in none: {said}."


def inhalants(view: View) -> list:
    """Computed liquid beside vaporizer fills and bottles, by month and agent, all agents together last."""
    rules = {row["name"]: row["val"] for row in view.rows("SELECT name, val FROM seed_stock_rules")}
    rows = view.rows(
        """
        WITH bottles AS (
            SELECT coalesce(drug, consumable) AS agent, month_no,
                sum(CASE WHEN movement = 'supplied' THEN qty END) AS supplied_ml
            FROM stock_moves JOIN stock_items USING (item)
            WHERE coalesce(drug, consumable) IN (SELECT agent FROM seed_agents) AND stock_items.base_unit = 'mL'
            GROUP BY ALL
        ), each AS (
            SELECT months.agent, months.month_no, cases, known_cases, modelled_ml, fills, filled_ml, supplied_ml
            FROM inhalant_months AS months LEFT JOIN bottles USING (agent, month_no)
        )
        SELECT agent, month_no, cases, known_cases, modelled_ml, fills, filled_ml, supplied_ml FROM each
        UNION ALL
        SELECT $all, month_no, sum(cases), sum(known_cases), sum(modelled_ml), sum(fills), sum(filled_ml),
            sum(supplied_ml)
        FROM each GROUP BY month_no
        ORDER BY month_no DESC, agent
    """,
        all=ALL,
    )
    if not rows:
        return []
    cells = []
    for row in rows:
        ratio = None
        if row["filled_ml"] is not None and row["modelled_ml"]:
            ratio = row["filled_ml"] / row["modelled_ml"]
        cells.append([month_text(row["month_no"]), row["agent"], row["cases"], row["cases"] - row["known_cases"],
                      row["modelled_ml"], row["fills"], row["filled_ml"], row["supplied_ml"], ratio,
                      judged(ratio, rules)])  # fmt: skip
    columns = [Column("Month", "month"), Column("Inhalant"), Column("Cases", "count"), Column("Unknown", "count"),
               Column("Computed", "number", "mL", 0), Column("Fills", "count"), Column("Filled", "number", "mL", 0),
               Column("From the store", "number", "mL", 0), Column("Filled over computed", "number", digits=2),
               Column("Judged", "nowrap")]  # fmt: skip
    note = (
        "A fill of a machine on which two agents were used that month belongs to neither and stands under 'not known'; "
        "all inhalants together can still be compared."
    )
    cells = [cell for cell in cells if cell[0] > last_of_year(view)]
    title = "Computed inhalant beside fills and bottles"
    every = Table(
        "inhalants-beside", f"{title}, all together", columns, [cell for cell in cells if cell[1] == ALL], note
    )
    each = [cell for cell in cells if cell[1] != ALL]
    return [every, Fold("Each inhalant", [Table("inhalants-each", f"{title}, each", columns, each)])]


def last_of_year(view: View) -> str:
    """The month a year before the one reported."""
    return month_text(month_number(view.results.month) - 12)


def judged(ratio: float | None, rules: dict[str, float]) -> str:
    """Whether fills and computed use fit each other."""
    if ratio is None:
        return ""
    if not rules["ratio_fault_low"] <= ratio <= rules["ratio_fault_high"]:
        return "one is wrong"
    return "fits" if rules["ratio_usual_low"] <= ratio <= rules["ratio_usual_high"] else "unusual"


def expiring(view: View) -> Table | str:
    rows = view.rows("SELECT * FROM expiring_lots ORDER BY expires_on, item, lot")
    within = view.rows("SELECT val FROM seed_stock_rules WHERE name = 'expiring_within_days'")[0]["val"]
    if not rows:
        return f"No lot on the shelf expires within {within:g} days, if the first to expire is used first."
    columns = [Column("Item"), Column("Lot", "nowrap"), Column("Expires", "day"), Column("Days", "count"),
               Column("There", "nowrap"), Column("Left when it expires", "nowrap"), Column("Packs lost", "number"),
               Column("Money lost", "number", digits=0)]  # fmt: skip
    cells = [
        [item_cell(row["item"]), row["lot"], row["expires_on"], row["days"],
         view.amount(row["left_qty"], row["base_unit"]),
         view.amount(row["unused_qty"], row["base_unit"]), row["unused_packs"], row["unused_money"]]
        for row in rows
    ]  # fmt: skip
    note = "If the first to expire is used first. Use it first, or return it; a lot without a date cannot be listed."
    return Table("expiring", f"Lots that expire within {within:g} days, or have", columns, cells, note)


def differences(view: View) -> Table | None:
    """Counts of items outside the controlled-drug book that differed from what was expected, last 12 months."""
    rows = view.rows("""
        SELECT positions.item, positions.base_unit, positions.moved_day, expected_qty, qty, difference_qty
        FROM stock_positions AS positions JOIN stock_items USING (item)
        WHERE control = '' AND abs(difference_qty) > 1e-6
            AND positions.moved_day > (SELECT max(moved_day) FROM stock_moves) - 366
        ORDER BY positions.moved_day DESC, positions.item
    """)
    if not rows:
        return None
    columns = [Column("Day", "day"), Column("Item"), Column("Unit", "nowrap"), Column("Expected", "number"),
               Column("Counted", "number"), Column("Difference", "number")]  # fmt: skip
    cells = [[row["moved_day"], item_cell(row["item"]), unit_words(row["base_unit"]), row["expected_qty"], row["qty"],
              row["difference_qty"]] for row in rows]  # fmt: skip
    return Table("count-differences", "Counts that differed from the book, 12 months", columns, cells)
