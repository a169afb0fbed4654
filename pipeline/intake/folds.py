"""The autumn night: which of the two hours a time belongs to, told by the order of a case's rows."""

import numpy as np
import pyarrow as pa

from pipeline import schema
from pipeline.intake import zones
from pipeline.intake.arrays import encoded
from pipeline.intake.findings import Finding

# Times of a case that are not charted in step with the others.
OUT_OF_STEP = ("outcome_at", "followed_until")


def resolve(typed, zone: str) -> None:
    """Moves times of the repeated hour that stand after a later one to the second hour.

    Within a row the columns are in order of time; within a case (for vitals, a case and parameter)
    the rows are. Times before such a step back are of the first hour and lose their flag; where
    no step back is seen the flag stays, and the time is taken as the first of the two.
    """
    flagged = {f.column: f for f in typed.findings if f.rule == "time_stands_twice"}
    if not flagged:
        return
    columns = [c.name for c in schema.TABLES[typed.table].columns if c.name in flagged and c.name not in OUT_OF_STEP]
    position = np.concatenate([flagged[name].positions for name in columns] or [np.array([], np.int64)])
    rank = np.concatenate([np.full(len(flagged[name]), n) for n, name in enumerate(columns)] or [position])
    if not len(position):
        return
    clock = np.concatenate([_numbers(typed.clocks[name], flagged[name].positions) for name in columns])
    local = zones.to_local(clock, zone)
    # Rows without a case, as of stock, are in order for each item.
    owner = "case_id" if "case_id" in typed.values else schema.TABLES[typed.table].columns[0].name
    groups = [position] if typed.table == "cases" else [_codes(typed, owner, position)]
    if typed.table == "vitals" and not typed.wide:
        groups.append(_codes(typed, "parameter", position))
    order = np.lexsort((rank, position, *groups))
    same = np.ones(len(order) - 1, bool)
    for group in groups:
        same &= group[order][1:] == group[order][:-1]
    day = local // zones.DAY
    same &= day[order][1:] == day[order][:-1]
    starts = np.concatenate(([True], ~same))
    back = np.concatenate(([False], same & (local[order][1:] < local[order][:-1])))
    group_of = np.cumsum(starts) - 1
    backs = np.cumsum(back) - np.maximum.accumulate(np.where(starts, np.cumsum(back), 0))
    second = np.zeros(len(order), bool)
    decided = np.zeros(len(order), bool)
    second[order] = backs > 0
    decided[order] = np.bincount(group_of, back)[group_of] > 0
    length = zones.repeat_length(local, zone)
    for n, name in enumerate(columns):
        mine = rank == n
        later = mine & second
        _add(typed, name, position[later], length[later])
        flagged[name].positions = position[mine & ~decided]
        if later.any():
            typed.findings.append(Finding("time_put_second", "N", name, position[later]))
    typed.findings[:] = [f for f in typed.findings if len(f)]


def _numbers(values: pa.Array, positions: np.ndarray) -> np.ndarray:
    return values.take(pa.array(positions)).to_numpy(zero_copy_only=False).astype(np.int64)


def _codes(typed, name: str, positions: np.ndarray) -> np.ndarray:
    return encoded(typed.values[name].take(pa.array(positions)))[0]


def _add(typed, name: str, positions: np.ndarray, seconds: np.ndarray) -> None:
    if not len(positions):
        return
    clock = typed.clocks[name]
    unknown = clock.is_null().to_numpy(zero_copy_only=False)
    numbers = clock.fill_null(0).to_numpy(zero_copy_only=False).copy()
    numbers[positions] += seconds
    typed.clocks[name] = pa.array(numbers, mask=unknown)
