"""What the shelf says was used: between counts, and when it stood empty."""

from collections import defaultdict
from typing import NamedTuple


class Count(NamedTuple):
    """A count: its day number, what was there, what had come less what had expired since the book began,
    and how many movements of unknown quantity it had seen [base unit]."""

    day: int
    quantity: float
    came: float
    unknown: int


class Shelf(NamedTuple):
    """One item's shelf. on_hand: after the last movement [base unit], None where unknown; last_day: day number of
    it; supplied: by day number; empty: day numbers that ended with nothing there, each with the day that changed."""

    on_hand: float | None
    last_day: int
    counts: list[Count]
    supplied: dict[int, float]
    empty: list[tuple[int, int | None]]


def read_shelves(db) -> dict[str, Shelf]:
    """Every item that has a movement, from stock_moves and stock_positions."""
    rows = db.execute("""
        SELECT moves.item, date_diff('day', DATE '1970-01-01', moves.moved_day), moves.movement, moves.qty,
            positions.on_hand_qty
        FROM stock_moves AS moves
        JOIN stock_positions AS positions ON positions.item = moves.item AND positions.move_no = moves.move_no
        ORDER BY moves.item, moves.move_no
    """).fetchall()
    by_item = defaultdict(list)
    for item, *move in rows:
        by_item[item].append(move)
    return {item: _shelf(moves) for item, moves in by_item.items()}


def _shelf(moves: list[list]) -> Shelf:
    counts, supplied, came, unknown = [], defaultdict(float), 0.0, 0
    closing: dict[int, float | None] = {}
    for day, movement, qty, on_hand in moves:
        closing[day] = on_hand
        if movement == "opened":
            continue
        if qty is None:
            unknown += 1
        elif movement == "counted":
            counts.append(Count(day, qty, came, unknown))
        elif movement in ("received", "returned"):
            came += qty
        elif movement == "expired":
            came -= qty
        elif movement == "supplied":
            supplied[day] += qty
    days = sorted(closing)
    empty = [
        (day, later)
        for day, later in zip(days, [*days[1:], None], strict=True)
        if closing[day] is not None and closing[day] <= 1e-9
    ]
    return Shelf(closing[days[-1]], days[-1], counts, dict(supplied), empty)


def depletion(earlier: Count, later: Count) -> float | None:
    """Used up between two counts [base unit]: what was there + what came - what expired - what is there.
    None where a movement between them is of unknown quantity."""
    if earlier.unknown != later.unknown:
        return None
    return earlier.quantity + later.came - earlier.came - later.quantity
