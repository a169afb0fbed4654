"""A page that leaves the clinic: no count below five, no case, no way to work one out."""

import csv
import re

import pytest

from pipeline.reporting.results import FEWEST_SHOWN, Results

COUNTED = ("cases", "judged", "had it", "seen", "entered", "both", "detected", "charted", "observed", "count", "meet")


@pytest.fixture(scope="module")
def shared(small):
    return Results(small.db, share=True)


def test_no_row_keeps_a_count_below_five(shared):
    kept = [row for row in shared.rows.values() if not row.withheld and row.denominator is not None]
    assert len(kept) > 100
    for row in kept:
        if row.unit != "share" or "time_share" in row.measure:
            continue
        assert row.n >= FEWEST_SHOWN and row.denominator >= FEWEST_SHOWN
        assert row.numerator >= FEWEST_SHOWN and row.denominator - row.numerator >= FEWEST_SHOWN


def test_a_withheld_row_keeps_nothing_to_count_back_from(shared):
    hidden = [row for row in shared.rows.values() if row.withheld]
    assert hidden
    for row in hidden:
        assert (row.numerator, row.denominator, row.value, row.low, row.high, row.not_assessable) == (None,) * 6


def test_one_hole_in_a_group_is_never_alone(shared, small):
    """Four levels known and the sum known would give the fifth away."""
    groups = {}
    for (measure, period, by, _), row in shared.rows.items():
        if by != "all" and row.unit == "share" and " x " not in by:
            groups.setdefault((measure, period, by), []).append(row)
    lonely = [key for key, rows in groups.items() if sum(row.withheld for row in rows) == 1 and len(rows) > 1]
    assert lonely == []


def test_no_case_is_named_or_drawn(pages, small):
    numbers = [row[0] for row in small.db.execute("SELECT case_id FROM stg_cases").fetchall()]
    for path in pages.shared.parent.rglob("*"):
        if path.suffix in (".html", ".csv"):
            words = set(re.findall(r"\bL\d{4}\b", path.read_text(encoding="utf-8")))
            assert words.isdisjoint(numbers), path.name
    assert not (pages.shared.parent / "cases.html").exists()
    html = pages.shared.read_text(encoding="utf-8")
    assert 'id="coldest"' not in html and 'id="discuss-table"' not in html and 'id="actions"' not in html
    assert "Copy for sharing" in html


def test_sheets_beside_it_hold_no_small_count_either(pages):
    tables = sorted((pages.shared.parent / "tables").glob("quality_*.csv"))
    assert len(tables) > 15
    for path in tables:
        with path.open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines))
        for row in rows:
            for name, value in row.items():
                exact = name.lower().split(": ")[-1]
                if exact in ("cases", "judged", "had it", "seen", "both", "observed", "cases that meet it") and value:
                    assert value == "fewer than 5" or float(value) == 0 or float(value) >= FEWEST_SHOWN, (
                        path.name,
                        row,
                    )


def test_small_counts_are_shown_at_home(small):
    rows = Results(small.db).rows.values()
    assert not any(row.withheld for row in rows)
    assert any(row.numerator in (1, 2, 3, 4) for row in rows if row.unit == "share")
