"""An invented clinic read back from its files with plain pandas, and the few sums the tests need."""

from pathlib import Path
from typing import NamedTuple

import pandas as pd

from pipeline.schema import TABLES


class Clinic(NamedTuple):
    """folder, what write_clinic said it planted, and the tables: times as times, what cannot be read
    unknown, the row of a later file in place of an earlier one with its key."""

    folder: Path
    planted: dict
    cases: pd.DataFrame
    case_people: pd.DataFrame
    vitals: pd.DataFrame
    drugs: pd.DataFrame
    events: pd.DataFrame
    equipment: pd.DataFrame
    stock: pd.DataFrame


def read_clinic(folder: Path, planted: dict) -> Clinic:
    tables = {name: _read(folder, name) for name in TABLES}
    cases = tables["cases"]
    cases["end_at"] = cases.extubation_at.fillna(cases.vaporizer_off_at)
    of_case = cases.set_index("case_id")[["induction_at", "end_at", "species", "weight_kg"]]
    tables["vitals"] = tables["vitals"].join(of_case, on="case_id")
    return Clinic(folder, planted, **tables)


def _read(folder: Path, name: str) -> pd.DataFrame:
    files = sorted((folder / "exports").glob(f"{name}*.csv"))
    parts, seen = [], set()
    for file in files:
        part = pd.read_csv(file, dtype=str, keep_default_na=False)
        if name == "drugs":  # a file begins with the month the one before it ended with
            part, seen = part[~part.case_id.isin(seen)], seen | set(part.case_id)
        parts.append(part)
    rows = pd.concat(parts, ignore_index=True)
    for column in TABLES[name].columns:
        if column.name not in rows:
            continue
        if column.kind in ("number", "integer"):
            rows[column.name] = pd.to_numeric(rows[column.name], errors="coerce")
        elif column.kind in ("time", "day"):
            rows[column.name] = pd.to_datetime(rows[column.name], errors="coerce")
        else:
            rows[column.name] = rows[column.name].replace("", None)
    key = list(TABLES[name].key)
    return rows.drop_duplicates(key, keep="last", ignore_index=True) if key else rows


def during(clinic: Clinic, parameter: str) -> pd.DataFrame:
    """Readings of a parameter from induction to the end of the anesthetic, in time order."""
    rows = clinic.vitals[clinic.vitals.parameter == parameter]
    rows = rows[(rows.taken_at >= rows.induction_at) & (rows.taken_at <= rows.end_at)]
    return rows.sort_values(["case_id", "taken_at"])


def has_run(rows: pd.DataFrame, beyond: pd.Series) -> pd.Series:
    """Whether each case has two readings in a row beyond a limit before its end."""
    rows = rows.assign(beyond=beyond)[rows.taken_at < rows.end_at]
    pair = rows.beyond & rows.groupby("case_id").beyond.shift(fill_value=False)
    return pair.groupby(rows.case_id).any()


def last_temperature(clinic: Clinic) -> pd.DataFrame:
    """The last plausible temperature of each dog's and cat's anesthetic."""
    rows = during(clinic, "temperature")
    return rows[rows.value.between(30, 43) & (rows.species != "rabbit")].groupby("case_id").last()


def minutes(later: pd.Series, earlier: pd.Series) -> pd.Series:
    return (later - earlier).dt.total_seconds() / 60
