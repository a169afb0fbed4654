"""What stands on the shelf: by worked lines, and by a ledger in plain Python for any sequence of movements."""

from datetime import date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

ITEMS = {"methadone": {"drug": "methadone", "concentration_mg_ml": 10, "pack_ml": 10}}
HEAD = "item | at | movement | quantity | unit | lot | expires_on\n"


def positions(store, *lines, items=ITEMS):
    rows = store(items, stock=HEAD + "\n".join(lines)).rows("stock_positions")
    return [(row["on_hand_qty"], row["difference_qty"]) for row in sorted(rows, key=lambda row: row["move_no"])]


def test_a_count_states_what_is_there_and_movements_go_on_from_it(store):
    assert positions(
        store,
        "methadone | 2026-03-02 08:00 | received | 2 | vial | |",
        "methadone | 2026-03-02 09:00 | counted | 50 | mL | |",
        "methadone | 2026-03-02 10:00 | supplied | 1.5 | mL | |",
        "methadone | 2026-03-02 11:00 | opened | 10 | mL | |",
        "methadone | 2026-03-02 12:00 | returned | 0.5 | mL | |",
        "methadone | 2026-03-03 08:00 | received | 3 | packs | |",
        "methadone | 2026-03-04 08:00 | counted | 78 | mL | |",
    ) == [
        (None, None),
        (50, None),
        (50 - 1.5, None),
        (50 - 1.5, None),
        (50 - 1.5 + 0.5, None),
        (50 - 1.5 + 0.5 + 3 * 10, None),
        (78, 78 - (50 - 1.5 + 0.5 + 3 * 10)),
    ]


def test_milligrams_become_millilitres_by_the_concentration(store):
    found = positions(
        store,
        "methadone | 2026-03-02 08:00 | counted | 1000 | mg | |",
        "methadone | 2026-03-02 09:00 | supplied | 25000 | mcg | |",
    )
    assert found == [(1000 / 10, None), (pytest.approx(1000 / 10 - 25 / 10), None)]


@pytest.mark.parametrize("cell", [" | mL", "1 | ", "1 | drops", "1 | g"])
def test_a_quantity_or_unit_we_cannot_read_leaves_the_shelf_unknown_until_the_next_count(store, cell):
    assert [on_hand for on_hand, _ in positions(
        store,
        "methadone | 2026-03-02 08:00 | counted | 50 | mL | |",
        f"methadone | 2026-03-02 09:00 | supplied | {cell} | |",
        "methadone | 2026-03-02 10:00 | received | 10 | mL | |",
        "methadone | 2026-03-03 08:00 | counted | 55 | mL | |",
    )] == [50, None, None, 55]  # fmt: skip


def test_at_one_moment_the_count_comes_last(store):
    assert positions(
        store,
        "methadone | 2026-03-02 | counted | 50 | mL | |",
        "methadone | 2026-03-03 | counted | 58 | mL | |",
        "methadone | 2026-03-03 | received | 10 | mL | |",
    ) == [(50, None), (60, None), (58, -2)]


def test_an_item_that_clinic_toml_does_not_name_is_kept_in_the_unit_it_is_charted_in(store):
    lines = ["gauze | 2026-03-02 | counted | 20 | pieces | |", "gauze | 2026-03-03 | supplied | 3 | each | |"]
    assert positions(store, *lines)[-1] == (17, None)


def test_pieces_by_the_pack(store):
    items = {"canister": {"unit": "each", "pack_units": 8}}
    lines = ["canister | 2026-03-02 | counted | 3 | each | |", "canister | 2026-03-03 | received | 2 | boxes | |"]
    assert positions(store, *lines, items=items)[-1] == (3 + 2 * 8, None)


def test_kilograms_and_grams_are_one_unit(store):
    items = {"lime": {"unit": "kg", "pack_units": 4.5}}
    lines = ["lime | 2026-03-02 | counted | 9 | kg | |", "lime | 2026-03-03 | supplied | 900 | g | |",
             "lime | 2026-03-04 | received | 1 | pack | |"]  # fmt: skip
    assert positions(store, *lines, items=items)[-1] == (9000 - 900 + 4500, None)


def test_liters_and_milliliters_convert_into_each_other(store):
    items = {"oxygen": {"unit": "L", "pack_units": 660}, "saline": {"pack_ml": 500}}
    lines = ["oxygen | 2026-03-02 | counted | 2 | cylinders | |", "oxygen | 2026-03-03 | supplied | 60000 | mL | |"]
    assert positions(store, *lines, items=items)[-1] == (2 * 660 - 60, None)
    lines = ["saline | 2026-03-02 | counted | 2 | L | |", "saline | 2026-03-03 | supplied | 1 | bottle | |"]
    assert positions(store, *lines, items=items)[-1] == (2000 - 500, None)


MOVES = st.lists(
    st.tuples(
        st.sampled_from(["received", "counted", "opened", "discarded", "expired", "returned", "supplied"]),
        st.integers(0, 400),  # quarters of a mL, so that sums are exact
        st.sampled_from(["", "A", "B", "C"]),
        st.integers(0, 3),  # hours after the one before: several at one moment happen
    ),
    max_size=40,
)
EXPIRES = {"A": "2026-12-31", "B": "2027-03-31", "C": ""}
SIGN = {"received": 1, "returned": 1, "supplied": -1, "discarded": -1, "expired": -1, "opened": 0}


@pytest.fixture
def shelf(store):
    return store(ITEMS)


@given(MOVES)
@settings(max_examples=35, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_millilitre_is_created_or_lost_between_movements(shelf, moves):
    at, lines, ledger = datetime(2026, 3, 2, 8), [], []
    for place, (movement, quarters, lot, hours) in enumerate(moves):
        at += timedelta(hours=hours)
        quantity = quarters / 4
        ledger.append((at, movement == "counted", place, movement, quantity))
        lines.append(f"methadone | {at} | {movement} | {quantity} | mL | {lot} | {EXPIRES.get(lot, '')}")
    if not lines:
        return
    shelf.refill(stock=HEAD + "\n".join(lines))
    found = sorted(shelf.rows("stock_positions"), key=lambda row: row["move_no"])

    level, gained = None, 0.0
    for row, (_, counted, _, movement, quantity) in zip(found, sorted(ledger), strict=True):
        if counted:
            assert row["difference_qty"] == (None if level is None else quantity - level)
            gained += 0.0 if level is None else quantity - level
            level = quantity
        elif level is not None:
            level += SIGN[movement] * quantity
        assert row["on_hand_qty"] == level

    # from the first count on: what is there = what was there + all that came - all that went + what counts found
    counts = [place for place, (_, counted, *_) in enumerate(sorted(ledger)) if counted]
    if counts:
        later = sorted(ledger)[counts[0] + 1 :]
        moved = sum(SIGN[movement] * quantity for _, counted, _, movement, quantity in later if not counted)
        assert level == sorted(ledger)[counts[0]][4] + moved + gained

    # the lots, and what no lot explains, are together just what is there
    lots = shelf.rows("stock_lots")
    left = [row["left_qty"] for row in lots]
    if level is None:
        assert all(one is None for one in left)
    else:
        assert sum(left) == level
        assert all(one >= 0 for one in left) or level < 0


def test_the_lots_still_there_are_those_that_expire_last(store):
    rows = store(
        ITEMS,
        stock=HEAD
        + "methadone | 2026-03-01 | counted | 0 | mL | |\n"
        + "methadone | 2026-03-02 | received | 20 | mL | LATE | 2027-06-30\n"
        + "methadone | 2026-03-03 | received | 30 | mL | SOON | 2026-09-30\n"
        + "methadone | 2026-03-04 | received | 10 | mL | NODATE |\n"
        + "methadone | 2026-03-05 | supplied | 25 | mL | |",
    ).rows("stock_lots")
    left = {row["lot"]: row["left_qty"] for row in rows}
    assert left == {"LATE": 20, "SOON": 35 - 20, "NODATE": 0, None: 0}
    assert {row["lot"]: row["expires_on"] for row in rows}["SOON"] == date(2026, 9, 30)


def test_a_lot_that_went_out_by_name_is_not_there(store):
    rows = store(
        ITEMS,
        stock=HEAD
        + "methadone | 2026-03-01 | counted | 0 | mL | |\n"
        + "methadone | 2026-03-02 | received | 20 | mL | LATE | 2027-06-30\n"
        + "methadone | 2026-03-03 | received | 30 | mL | SOON | 2026-09-30\n"
        + "methadone | 2026-03-05 | expired | 20 | mL | LATE |",
    ).rows("stock_lots")
    assert {row["lot"]: row["left_qty"] for row in rows} == {"LATE": 0, "SOON": 30, None: 0}
