"""The sentences on top of the page, what must be done first."""

from pipeline.reporting.display import listing
from pipeline.stock.report.view import View, item_words


def sentences(view: View) -> list:
    """(sentence, '#section') pairs, most urgent first."""
    said = [due(view), soon(view), book(view), overdue(view), expiring(view)]
    return [one for one in said if one] or ["Nothing is due: no order, no change, no discrepancy."]


def due(view: View):
    rows = view.rows("SELECT item, packs, cost FROM order_sheet WHERE due AND packs > 0 ORDER BY days_left, item")
    if not rows:
        return None
    parts = [f"{view.display.count(row['packs'])} {item_words(row['item'])}" for row in rows]
    cost = sum(row["cost"] or 0 for row in rows)
    more = f", for {view.display.count(cost)} at the prices of clinic.toml" if cost else ""
    return f"Order now, in packs: {listing(parts)}{more}.", "#orders"


def soon(view: View):
    rows = view.rows("""
        SELECT item, order_by FROM order_sheet WHERE NOT due AND packs > 0 AND order_by <= as_of + 7
        ORDER BY order_by, item
    """)
    if not rows:
        return None
    parts = [f"{item_words(row['item'])} by {view.display.day(row['order_by'])}" for row in rows]
    return f"Within a week: {listing(parts)}.", "#orders"


def book(view: View):
    row = view.rows("""
        SELECT count(*) FILTER (state = 'off') AS off, count(*) FILTER (state = 'unknown') AS unknown,
            count(*) FILTER (state IN ('off', 'balanced')) AS judged FROM drug_book_lines
    """)[0]
    if not row["judged"] or view.share:
        return None
    number = view.display.count
    off = "none is" if not row["off"] else f"{number(row['off'])} {'is' if row['off'] == 1 else 'are'}"
    return (
        f"Controlled-drug book: of {number(row['judged'])} lines that could be judged {off} off; "
        f"{number(row['unknown'])} could not be judged.",
        "#book",
    )


def overdue(view: View):
    absorbent = view.rows("SELECT machine_id FROM absorbent_charges WHERE to_s IS NULL AND overdue = 1 ORDER BY 1")
    canisters = view.rows("SELECT machine_id FROM canister_charges WHERE to_s IS NULL AND spent = 1 ORDER BY 1")
    parts = []
    if absorbent:
        parts.append(f"absorbent of {listing([row['machine_id'] for row in absorbent])}")
    if canisters:
        parts.append(f"canister of {listing([row['machine_id'] for row in canisters])}")
    return (f"Change now: {listing(parts)}.", "#machines") if parts else None


def expiring(view: View):
    rows = view.rows("""
        SELECT item, sum(unused_money) AS money FROM expiring_lots WHERE unused_qty > 0 GROUP BY item ORDER BY 2 DESC, 1
    """)
    if not rows:
        return None
    money = sum(row["money"] or 0 for row in rows)
    worth = f", worth {view.display.count(money)}" if money else ""
    return f"Will expire before it is used: {listing([item_words(row['item']) for row in rows])}{worth}.", "#shelf"
