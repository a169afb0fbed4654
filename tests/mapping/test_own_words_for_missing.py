"""A clinic's own words for 'not recorded' are unknown, and nothing else is."""

import duckdb

from pipeline import intake
from pipeline.settings import from_dict

MAPPING = """
[[file]]
name = "cases"
files = ["cases*.csv"]
table = "cases"
missing = ["not seen", "XX"]

[file.columns]
Number = "case_id"
Kind = "species"
Mass = "weight_kg"
Began = "induction_at"
"""


def test_own_words_for_missing_are_unknown(tmp_path):
    (tmp_path / "exports").mkdir()
    (tmp_path / "mapping.toml").write_text(MAPPING, encoding="utf-8")
    (tmp_path / "exports" / "cases.csv").write_text(
        "Number,Kind,Mass,Began\n1,dog,xx,2026-03-02 08:00\n2,Not seen,12.5,2026-03-02 09:00\n", encoding="utf-8"
    )
    with duckdb.connect() as db:
        receipt = intake.load(db, from_dict({"zone": "UTC"}), tmp_path, None, None)
        found = db.execute("SELECT case_id, species, weight_kg FROM cases ORDER BY case_id").fetchall()
    assert receipt.refused == [] and receipt.quarantined == 0
    assert found == [("1", "dog", None), ("2", None, 12.5)]
