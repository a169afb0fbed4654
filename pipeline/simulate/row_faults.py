"""Faults in the rows people write: times left out or swapped, a class not given, a waste not noted."""

from collections import Counter

import numpy as np
import pandas as pd

from pipeline.simulate.formulary import CONTROLLED

# Share of cases in which a stage was never written down.
MISSING = {
    "extubation_at": 0.02, "sternal_at": 0.045, "standing_at": 0.05, "recovery_end_at": 0.02, "vaporizer_off_at": 0.008,
    "procedure_end_at": 0.008, "premed_at": 0.01, "asa_class": 0.015, "weight_kg": 0.004, "fasting_hours": 0.03,
    "tube_id_mm": 0.01,
}  # fmt: skip


def spoil_cases(rows: pd.DataFrame, rng) -> Counter:
    """Takes values away from case rows and swaps the times of a few; counts what was done."""
    counts = Counter()
    for name, share in MISSING.items():
        gone = rng.random(len(rows)) < share
        counts[f"no {name}"] = int((gone & rows[name].notna()).sum())
        rows[name] = rows[name].mask(gone)
    for earlier, later, few in (("vaporizer_off_at", "extubation_at", 3), ("extubation_at", "sternal_at", 2)):
        both = np.flatnonzero((rows[earlier] < rows[later]).to_numpy())
        for row in rng.choice(both, min(few, len(both)), replace=False):
            first, second = rows.at[row, earlier], rows.at[row, later]
            rows.at[row, earlier], rows.at[row, later] = second, first
            counts["times swapped"] += 1
    cats = np.flatnonzero((rows.species == "cat").to_numpy() & rows.weight_kg.notna().to_numpy())
    for row in rng.choice(cats, min(1, len(cats)), replace=False):
        rows.at[row, "weight_kg"] *= 10
        counts["decimal point lost in a weight"] += 1
    return counts


def spoil_drugs(rows: pd.DataFrame, rng) -> Counter:
    """Witnesses and wastes not written, infusions without an end, a unit left out, a dose ten times over."""
    counts = Counter()
    kept = rows.drug.isin(CONTROLLED).to_numpy()
    alone = kept & (rng.random(len(rows)) < 0.012)
    rows.loc[alone, "witnessed_by"] = None
    counts["no witness"] = int(alone.sum())
    plans = (
        ("waste not written", kept & (rows.wasted_ml > 0.3).to_numpy(), 3, "wasted_ml", np.nan),
        (
            "infusion without an end",
            ((rows.kind == "infusion") & (rows.drug != "propofol")).to_numpy(),
            4,
            "stopped_at",
            np.nan,
        ),
        ("no unit", (rows.kind == "bolus").to_numpy(), 3, "amount_unit", None),
    )
    for fault, could, few, column, value in plans:
        here = _some(could, few, len(rows), rng)
        rows.loc[here, column] = value
        counts[fault] = len(here)
    here = _some(kept & (rows.wasted_ml > 0.2).to_numpy(), 6, len(rows), rng)
    wrong = np.where(np.arange(len(here)) % 2, rows.wasted_ml[here] / 10, rows.wasted_ml[here] - 0.15)
    rows.loc[here, "wasted_ml"] = np.round(wrong, 2)
    counts["waste that does not balance"] = len(here)
    written = ((rows.kind == "bolus") & (rows.amount_unit == "mg/kg") & ~rows.drug.isin(CONTROLLED)).to_numpy()
    here = _some(written, 2, len(rows), rng)
    rows.loc[here, "amount"] *= 10
    counts["dose ten times over"] = len(here)
    return counts


def spoil_events(rows: pd.DataFrame, rng) -> Counter:
    """A few complications have no time."""
    gone = rng.random(len(rows)) < 0.03
    rows.loc[gone, ["occurred_at", "resolved_at"]] = np.nan
    return Counter({"event without a time": int(gone.sum())})


def spoil_equipment(rows: pd.DataFrame, rng) -> Counter:
    """A few leak tests have no unit."""
    here = _some((rows.action == "leak_tested").to_numpy(), 4, len(rows), rng)
    rows.loc[here, "unit"] = None
    return Counter({"leak test without a unit": len(here)})


def _some(could: np.ndarray, few: int, n: int, rng) -> np.ndarray:
    """few of the rows that could; fewer in a small record (a record of 3,000 rows has them all)."""
    rows = np.flatnonzero(could)
    return np.sort(rng.choice(rows, min(len(rows), max(1, round(few * min(1, n / 3000)))), replace=False))
