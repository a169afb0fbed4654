"""The benchmark's rivals do the same job: `results` written three times over, in SQL, in pandas and in polars, from the
same exports of an invented clinic. A rival that computed something else, or less, would make the benchmark a lie."""

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"
READINGS = "20000"


def run(script: str, *arguments) -> dict:
    """A benchmark script in a process of its own; its last line as JSON, if it prints one."""
    command = [sys.executable, str(BENCHMARKS / script), *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1]) if done.stdout else {}


# table: column: (share of its cells, what is written into them, one of several)
ROUGH = {
    "cases": {
        "induction_at": (0.1, ""), "intubation_at": (0.3, ""), "vaporizer_on_at": (0.3, ""), "extubation_at": (0.2, ""),
        "vaporizer_off_at": (0.2, ""), "sternal_at": (0.3, ""), "standing_at": (0.3, ""), "recovery_end_at": (0.3, ""),
        "preoxygenation_start_at": (0.3, ""), "outcome": (0.4, "died", "euthanised"), "followed_until": (0.3, ""),
        "species": (0.1, "bird"), "weight_kg": (0.1, ""), "site": (0.1, ""), "agent": (0.1, "none"),
        "techniques": (0.1, ""), "asa_class": (0.1, ""), "emergency": (0.1, ""), "airway": (0.1, "mask"),
    },
    "drugs": {"stopped_at": (0.4, ""), "concentration_mg_ml": (0.2, ""), "amount": (0.1, ""), "kind": (0.1, "bolus")},
    "events": {"occurred_at": (0.3, ""), "event": (0.2, "death")},
    "equipment": {"unit": (0.1, "")},
}  # fmt: skip
ROUGH_READINGS = {"etco2": 3, "heart_rate": 0, "spo2": 20, "temperature": 27, "vaporizer_setting": 9, "map": 40}


def roughened(exports: Path) -> None:
    """Blanks cells and makes readings wrong, so that every rule about the unknown and every artefact rule has work;
    nothing of it is refused."""
    rng = np.random.default_rng(3)
    for path in sorted(exports.glob("*.csv")):
        rows = pd.read_csv(path, dtype=str, keep_default_na=False)
        if path.name.startswith("vitals"):
            for parameter, value in ROUGH_READINGS.items():
                rows.loc[(rows.parameter == parameter) & (rng.random(len(rows)) < 0.1), "value"] = str(value)
            rows = rows[rng.random(len(rows)) < 0.9]
        for table, columns in ROUGH.items():
            if path.name.startswith(f"{table}_2"):
                for column, (share, *values) in columns.items():
                    here = rng.random(len(rows)) < share
                    rows.loc[here, column] = rng.choice(values, here.sum())
        rows.to_csv(path, index=False, lineterminator="\n")


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    """A small clinic, charted badly, with its results computed."""
    folder = tmp_path_factory.mktemp("rivals") / "clinic"
    run("table_steps.py", "make", folder, READINGS)
    roughened(folder / "exports")
    for step in ("load", "results"):
        run("table_steps.py", step, folder, READINGS)
    return folder


def test_every_rule_has_work(clinic):
    with duckdb.connect(str(clinic / "rounds.duckdb"), read_only=True) as db:
        reasons = {row[0] for row in db.execute("SELECT DISTINCT reason FROM vital_readings").fetchall()}
        statuses = {row[0] for row in db.execute("SELECT DISTINCT status FROM recovery_stages").fetchall()}
        fates = {row[0] for row in db.execute("SELECT DISTINCT fate FROM case_deaths").fetchall()}
        unstarted = db.execute("SELECT count(*) FROM cases ANTI JOIN case_windows USING (case_id)").fetchone()[0]
        estimated = db.execute("SELECT sum(end_estimated) FROM case_windows").fetchone()[0]
        quarantined = db.execute("SELECT count(*) FROM quarantine").fetchone()[0]
    assert {"disconnected", "no_pulse_signal", "not_placed"} < reasons, reasons
    assert {"charted", "passed", "lost", "last_reading", "no_origin", "not_applicable"} <= statuses, statuses
    assert {"died", "survived", "euthanised", "assumed_alive"} <= fates, fates
    assert unstarted and estimated
    assert quarantined == 0


@pytest.fixture(scope="module")
def by_pandas(clinic):
    """The rows of the pandas rival."""
    run("rival_pandas.py", clinic, clinic / "pandas.parquet")
    return clinic / "pandas.parquet"


def agrees(clinic: Path, rows: Path) -> None:
    found = run("table_steps.py", "compare", clinic, rows)
    assert found["differences"] == []
    assert found["theirs"] > 0.95 * found["ours"]


def test_rows_of_the_pandas_rival_equal_ours(clinic, by_pandas):
    agrees(clinic, by_pandas)


@pytest.mark.skipif(importlib.util.find_spec("polars") is None, reason="polars is installed for benchmarks only")
def test_rows_of_the_polars_rival_equal_ours(clinic):
    run("rival_polars.py", clinic, clinic / "polars.parquet")
    agrees(clinic, clinic / "polars.parquet")


@pytest.mark.parametrize(
    "change",
    [
        lambda rows: rows.assign(n=rows.n.where(rows.index != 7, rows.n + 1)),
        lambda rows: rows.assign(value=rows.value.where(rows.index != rows.value.first_valid_index())),
        lambda rows: rows.assign(low=rows.low.fillna(0.5)),
        lambda rows: rows.assign(level=rows.level.where(rows.index != 7, "nowhere")),
        lambda rows: pd.concat([rows, rows.iloc[:1]]),
    ],
    ids=["a count", "a value gone", "an interval where none is", "another group", "a row twice"],
)
def test_the_comparison_sees(clinic, by_pandas, tmp_path, change):
    change(pd.read_parquet(by_pandas)).to_parquet(tmp_path / "changed.parquet")
    assert run("table_steps.py", "compare", clinic, tmp_path / "changed.parquet")["differences"]
