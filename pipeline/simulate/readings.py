"""Grids become rows: one reading each, in order of case, time and parameter; recovery readings follow."""

import numpy as np
import pandas as pd

from pipeline.schema import PARAMETERS
from pipeline.simulate.monitors import oxygen_flow
from pipeline.simulate.physiology import Steps

CODE = {name: number for number, name in enumerate(PARAMETERS)}
NAMES = np.array(list(PARAMETERS), object)
WATCH_EVERY = 15


def readings(cases: pd.DataFrame, done: Steps, rng: np.random.Generator) -> pd.DataFrame:
    """Columns case (position), minute (from induction), parameter (its number), value."""
    parts = [_flat(done.minute, grid, name) for name, grid in done.values.items()]
    parts += [_before(cases), *_recovery(cases, done, rng)]
    columns = [np.concatenate([part[number] for part in parts]) for number in range(4)]
    order = np.lexsort([columns[2], columns[1], columns[0]])
    return pd.DataFrame(dict(zip(("case", "minute", "parameter", "value"), (c[order] for c in columns), strict=True)))


def _flat(minute: np.ndarray, grid: np.ndarray, name: str):
    case, mark = np.nonzero(~np.isnan(grid))
    return case.astype("int32"), minute[case, mark], np.full(len(case), CODE[name], "int8"), grid[case, mark]


def _before(cases: pd.DataFrame):
    """The oxygen flow of pre-oxygenation."""
    at = cases.m_preoxygenation_start.to_numpy()
    case = np.flatnonzero(~np.isnan(at)).astype("int32")
    flow = oxygen_flow(cases, np.zeros((len(cases), 1)))[case, 0]
    return case, at[case], np.full(len(case), CODE["o2_flow"], "int8"), flow


def _recovery(cases: pd.DataFrame, done: Steps, rng: np.random.Generator):
    """Every 15 minutes from extubation until the patient goes back to its ward, or until its death."""
    out = cases.m_extubation.to_numpy()
    until = cases.m_recovery_end.fillna(cases.m_outcome).to_numpy()
    until = np.minimum(np.where(np.isnan(out), -1, until), np.nan_to_num(out) + 12 * 60)
    looks = int(max(0, np.nanmax(until - np.nan_to_num(out))) // WATCH_EVERY) + 1 if len(cases) else 0
    if not looks:
        return []
    since = WATCH_EVERY * np.arange(1, looks + 1)[None, :].astype(float)
    minute = np.nan_to_num(out)[:, None] + since
    there = minute <= until[:, None]
    heat = _last(done.values["temperature"], cases)
    warm = np.where(cases.does_forced_air, 70.0, 115.0)[:, None]
    heat = heat - 0.15 + (38.3 - heat) * (1 - np.exp(-since / warm)) + 0.06 * rng.standard_normal(minute.shape)
    rate = _last(done.values["heart_rate"], cases) * (1.06 + 0.05 * rng.standard_normal(minute.shape))
    air = (
        np.where(rng.random((len(cases), 1)) < 0.22, 95.2, 97.4) + 0.9 * rng.standard_normal(minute.shape) + since / 90
    )
    breath = _last(done.values["respiratory_rate"], cases) * (1.5 + 0.12 * rng.standard_normal(minute.shape))
    shown = {"heart_rate": (np.clip(rate, 30, 330), 0), "respiratory_rate": (np.clip(breath, 6, 120), 0)}
    shown |= {"spo2": (np.clip(air, 88, 100), 0), "temperature": (heat, 1)}
    return [
        _flat(minute, np.where(there, np.round(value, digits), np.nan), name) for name, (value, digits) in shown.items()
    ]


def _last(grid: np.ndarray, cases: pd.DataFrame) -> np.ndarray:
    """The last reading of each case, as a column; where there is none, a usual one."""
    marks = np.where(np.isnan(grid), -1, np.arange(grid.shape[1])[None, :]).max(axis=1)
    value = grid[np.arange(len(grid)), np.maximum(marks, 0)]
    return np.where(np.isnan(value), np.nanmedian(grid), value)[:, None]
