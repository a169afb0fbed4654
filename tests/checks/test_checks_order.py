"""Readings found in any order of rows count the same: the rules that look at neighbors sort what stands in pieces."""

import pytest
from clinic_rows import SETTINGS, fill_clocks, sound_clinic
from faults import statements

from pipeline import settings
from pipeline.checks import conditions, counting, inputs, store
from pipeline.checks.catalogue import rules
from pipeline.database import connect

NEIGHBORS = [
    "vitals_gap_10", "vitals_gap_5", "vitals_copied_forward", "vitals_temperature_dip", "vitals_no_co2",
    "vitals_line_flush", "vitals_key", "vitals_recovery_gap",
]  # fmt: skip


@pytest.mark.parametrize("order", ["taken_at_s, parameter, case_id", "hash(case_id, taken_at_s, parameter)",
                                   "taken_at_s DESC"])  # fmt: skip
def test_the_order_of_rows_changes_no_count(order):
    with connect() as db:
        sound_clinic(db)
        for place, rule in enumerate(rule for rule in rules() if rule.id in NEIGHBORS):
            for statement in statements(rule):
                db.execute(statement.format(at='"at"', dog=f"'A{(25, 26, 27, 28, 36, 37, 39, 40)[place]}'"))
        fill_clocks(db)
        inputs.prepare(db, settings.from_dict(SETTINGS))
        as_exported = counts(db)
        assert set(NEIGHBORS) <= set(as_exported)
        db.execute(f"CREATE OR REPLACE TABLE vitals AS SELECT * FROM vitals ORDER BY {order}")
        assert counts(db) == as_exported


def counts(db) -> dict[str, int]:
    inputs.steps(db)
    store.begin(db, list(rules()))
    found = counting.count(db, list(rules()), conditions.load_bounds(db))
    return {rule: count.failed for rule, count in found.items() if count.failed}


def test_of_gaps_as_long_as_each_other_the_earliest_is_named():
    """Heart rate every 5 minutes; two readings are missing, 20 minutes apart, so that two gaps of 10 minutes stand."""
    with connect() as db:
        sound_clinic(db)
        case, start = db.execute(
            """SELECT vitals.case_id, min(vitals.taken_at) FROM vitals JOIN cases USING (case_id)
            WHERE parameter = 'heart_rate' AND value IS NOT NULL AND taken_at BETWEEN induction_at AND extubation_at
            GROUP BY vitals.case_id HAVING count(*) >= 9 ORDER BY vitals.case_id LIMIT 1"""
        ).fetchone()
        times = [at for (at,) in db.execute(
            "SELECT taken_at FROM vitals WHERE case_id = ? AND parameter = 'heart_rate' ORDER BY 1", [case]
        ).fetchall()]  # fmt: skip
        gone = [times[times.index(start) + 2], times[times.index(start) + 6]]
        db.execute("DELETE FROM vitals WHERE case_id = ? AND parameter = 'heart_rate' AND taken_at IN (?, ?)",
                   [case, *gone])  # fmt: skip
        inputs.prepare(db, settings.from_dict(SETTINGS))
        for order in ("source_row", "source_row DESC"):
            db.execute(f"CREATE OR REPLACE TABLE vitals AS FROM vitals ORDER BY {order}")
            counts(db)
            found = db.execute(
                "SELECT found FROM check_hits WHERE rule_id = 'vitals_gap_5' AND case_id = ?", [case]
            ).fetchall()
            around = [(at - gone[0]).total_seconds() for at in times]
            before, after = (times[around.index(0) + step].strftime("%Y-%m-%d %H:%M") for step in (-1, 1))
            assert found == [(f"no heart rate from {before} to {after}",)]
