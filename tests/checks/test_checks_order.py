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
