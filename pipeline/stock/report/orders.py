"""What to order, when, how many packs, and what another service level would tie up."""

from pipeline.figures.orders import runway, trade_off
from pipeline.reporting.frame import Cell, Column, Figure, Fold, Section, Table
from pipeline.stock.report.view import View, item_cell, item_words

ON_ITS_WAY = "What is already on its way is not in the records: take it off the quantity before you order."
NO_LINES = (
    "No item can be ordered by forecast: that needs a complete month of cases, [items] in clinic.toml with their packs "
    "and lead_days, and a count of what is there."
)
SHEET = """
    SELECT * FROM order_sheet
    ORDER BY due IS NULL, due DESC, order_by NULLS LAST, days_left NULLS LAST, item
"""


def section(view: View) -> Section:
    sheet = view.rows(SHEET)
    lines = [row for row in sheet if row["packs"] is not None]
    without = [row for row in sheet if row["packs"] is None]
    items = [
        *([lasting(view, lines), order_table(view, lines), ON_ITS_WAY] if lines else [NO_LINES]),
        *([left_out(without)] if without else []),
        *what_if(view),
    ]
    return Section("orders", "What to order", "What runs out, by when must it be ordered, and how much?", items)


def order_table(view: View, lines: list[dict]) -> Table:
    """The order sheet, due lines first; also written by itself as a spreadsheet."""
    columns = [
        Column("Item"),
        Column("Packs", "count"),
        Column("Order by", "day"),
        Column("Pack", "nowrap"),
        Column("There", "number"),
        Column("Days left", "count"),
        Column("Cost", "number", digits=2),
        Column("Why"),
    ]
    rows = [
        [
            item_cell(row["item"]),
            row["packs"],
            Cell(row["order_by"], "now" if row["due"] else None),
            view.amount(row["pack_size"], row["base_unit"]),
            Cell(row["on_hand"], view.amount(row["on_hand"], row["base_unit"])),
            row["days_left"],
            row["cost"],
            row["why"],
        ]
        for row in lines
    ]
    note = (
        f"As of {view.display.day(view.today)}, the last day loaded. A line with a date says what to order that day. "
        "Days left: until nothing is there, by the forecast; dash: over a year. Cost in the money of clinic.toml."
    )
    return Table("order-sheet", "Order sheet", columns, rows, note)


def lasting(view: View, lines: list[dict]) -> Figure:
    shown = [
        {
            "label": item_words(row["item"]),
            "days": row["days_left"],
            "lead": row["lead_days"],
            "due": bool(row["due"]),
            "said": "order now"
            if row["due"]
            else "over a year"
            if row["order_by"] is None
            else f"order by {view.display.day(row['order_by'])}",
        }
        for row in lines
    ]
    due = [row for row in lines if row["due"]]
    finding = f"{len(due)} of {len(lines)} items are at or below their order point" if due else "No item is due today"
    table = Table(
        "lasting-table",
        "How long what is there will last",
        [Column("Item"), Column("Days left", "number"), Column("Lead time", "number", "d"), Column("Order by", "day"),
         Column("Order point", "nowrap"), Column("Needed in the lead time", "nowrap")],
        [[item_cell(row["item"]), row["days_left"], row["lead_days"], row["order_by"],
          view.amount(row["order_point"], row["base_unit"]), view.amount(row["lead_mean"], row["base_unit"])]
         for row in lines],
    )  # fmt: skip
    caption = (
        "Line: days until nothing is there, by the forecast. Diamond and thick line: order now. Upright tick: the days "
        "an order takes. Triangle: longer than drawn."
    )
    return Figure("lasting", finding, runway(shown, "days from today"), table, caption, "orders")


def left_out(without: list[dict]) -> Fold:
    table = Table(
        "not-ordered",
        "Items without an order line, and what to do",
        [Column("Item"), Column("What is missing")],
        [[item_cell(row["item"]), row["why"]] for row in without],
    )
    return Fold(f"{len(without)} items have no order line", [table])


def what_if(view: View) -> list:
    """Money tied up on average at each service level, all items together and each."""
    points = view.rows("""
        WITH steps AS (
            SELECT service_level, sum(money) AS money, sum(average_packs) AS packs, count(*) - count(money) AS unpriced
            FROM order_what_if WHERE service_level IN (0.8, 0.9, 0.95, 0.98, 0.99, 0.995) GROUP BY service_level
        )
        SELECT service_level, money, packs, unpriced FROM steps ORDER BY service_level
    """)
    points = [one for one in points if one["money"] is not None]
    if not points:
        return []
    now = view.rows("SELECT sum(money) AS money, sum(average_packs) AS packs FROM order_what_if WHERE chosen")[0]
    low, high = points[0], points[-1]
    number = view.display.count
    finding = (
        f"The shelf ties up {number(now['money'])} on average as the settings stand; {number(low['money'])} if every "
        f"item had a service level of {low['service_level']:.0%}, {number(high['money'])} at "
        f"{high['service_level']:.1%}"
    )
    table = Table(
        "what-if-table",
        "All items at one service level",
        [Column("Lead times without running out", "share"), Column("Packs there on average", "number"),
         Column("Money tied up", "number", digits=0), Column("Items without a price", "count")],
        [[one["service_level"], one["packs"], one["money"], one["unpriced"]] for one in points],
        f"As the settings stand, item by item: {number(now['packs'])} packs, {number(now['money'])} in money.",
    )  # fmt: skip
    drawn = [
        {"service": one["service_level"], "money": one["money"],
         "said": f"{one['service_level']:.1%}: {number(one['money'])}"}
        for one in points
    ]  # fmt: skip
    caption = (
        "Service level: the share of lead times that must pass without running out, the same for every item. Average "
        "stock: what is left when an order comes, and half an order. Prices from clinic.toml."
    )
    figure = Figure("what-if", finding, trade_off(drawn, "money tied up"), table, caption, "orders", "half")
    return [figure, "Each item at each service level: stock_details.xlsx, sheet what-if-items."]


def each_item(view: View) -> Table:
    rows = view.rows("SELECT * FROM order_what_if ORDER BY item, service_level")
    return Table(
        "what-if-items",
        "Order point, average stock and money by item and service level",
        [Column("Item"), Column("Service level", "share"), Column("Now", "nowrap"), Column("Order point", "number"),
         Column("Packs there on average", "number"), Column("Money", "number", digits=0)],
        [[item_cell(row["item"]), row["service_level"], "yes" if row["chosen"] else "", row["order_point"],
          row["average_packs"], row["money"]] for row in rows],
    )  # fmt: skip
