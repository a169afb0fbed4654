"""The clinic's exports: canonical columns, ISO local times, several files a table, empty cell = unknown."""

from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.csv

from pipeline.schema import PARAMETERS, TABLES
from pipeline.simulate.readings import NAMES


def stamp(minutes) -> np.ndarray:
    """Local minutes since 1970 as times of a second's grain; NaN becomes no time."""
    minutes = np.asarray(minutes, float)
    seconds = np.where(np.isnan(minutes), 0, minutes * 60).astype("int64").astype("datetime64[s]")
    return np.where(np.isnan(minutes), np.datetime64("NaT", "s"), seconds)


def export(folder: Path, name: str, table: str, rows: pd.DataFrame) -> None:
    """One CSV with the canonical columns of a table that rows has, in the schema's order."""
    columns = [column for column in TABLES[table].columns if column.name in rows]
    arrays = [_array(rows[column.name], column.kind) for column in columns]
    _write(folder / name, arrays, [column.name for column in columns])


def export_readings(folder: Path, name: str, case_ids: np.ndarray, at, parameter, value, wide: bool) -> None:
    """Readings as one CSV, a row a reading or, wide, a row a time. at: local minutes."""
    if not wide:
        arrays = [pa.array(case_ids), pa.array(stamp(at)), pa.array(NAMES[parameter]), pa.array(value)]
        _write(folder / name, arrays, ["case_id", "taken_at", "parameter", "value"])
        return
    rows = pd.DataFrame({"case_id": case_ids, "at": at, "parameter": parameter, "value": value})
    grid = rows.pivot_table(index=["case_id", "at"], columns="parameter", values="value", aggfunc="first")
    present = [number for number in range(len(PARAMETERS)) if number in grid.columns]
    arrays = [pa.array(grid.index.get_level_values(0)), pa.array(stamp(grid.index.get_level_values(1)))]
    arrays += [pa.array(grid[number].to_numpy(), from_pandas=True) for number in present]
    _write(folder / name, arrays, ["case_id", "taken_at", *(NAMES[number] for number in present)])


def _array(values: pd.Series, kind: str) -> pa.Array:
    if pd.api.types.is_object_dtype(values) or pd.api.types.is_string_dtype(values):
        cells = values.to_numpy(object)
        return pa.array(cells, pa.string(), mask=(pd.isna(cells) | (cells == "")))
    if kind == "time":
        return pa.array(values.to_numpy())
    if kind == "yes_no":
        return pa.array(np.where(values, "yes", "no"))
    if kind == "day":
        return pa.array(values.to_numpy().astype("datetime64[D]"))
    numbers = values.to_numpy()
    if numbers.dtype.kind == "f" and not (np.nan_to_num(numbers) % 1).any():
        return pa.array(pd.Series(numbers).astype("Int64"), from_pandas=True)
    return pa.array(numbers, from_pandas=True)


def _write(path: Path, arrays: list, names: list[str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    options = pyarrow.csv.WriteOptions(quoting_style="none", quoting_header="none")  # no text of ours has a comma
    pyarrow.csv.write_csv(pa.table(arrays, names), path, write_options=options)
