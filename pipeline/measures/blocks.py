"""Counts by measure and group as matrices, one row a measure and one column a group of `group_counts`."""

import numpy as np
import pandas as pd

from pipeline.measures.catalogue import Measure


class Groups:
    """Every period, grouping and level with a case, and all cases of every period, in the order of `results`.

    frame: [period, kind, by, level, n], its index the column of a group; n: cases of each [count]
    """

    def __init__(self, db):
        self.frame = db.execute("""
            SELECT period, kind, by_column AS "by", level_text AS level, n
            FROM group_counts JOIN report_periods USING (period) ORDER BY group_no
        """).df()
        self.n = self.frame["n"].to_numpy()

    def __len__(self) -> int:
        return len(self.n)


def matrices(
    db, table: str, columns: tuple[str, ...], names: list[str], groups: Groups, missing=0.0
) -> list[np.ndarray]:
    """Columns of a table of counts as matrices of the measures named, in their order, by group.

    missing: what stands where the table has no row, because no case could be judged
    """
    found = db.execute(
        f"""
        SELECT asked.no, group_no - 1 AS group_no, {", ".join(columns)}
        FROM {table} JOIN (SELECT unnest($names) AS measure, unnest(range(len($names))) AS no) AS asked USING (measure)
        """,
        {"names": names},
    ).fetchnumpy()
    filled = np.full((len(columns), len(names), len(groups)), missing)
    for place, column in enumerate(columns):
        filled[place, found["no"], found["group_no"]] = found[column]
    return list(filled)


def block(wanted: list[Measure], groups: Groups, **columns: np.ndarray) -> dict[str, np.ndarray]:
    """Rows of `results` for every measure wanted in every group: columns by name, all of one length."""
    shape = (len(wanted), len(groups))
    places = np.repeat([measure.place for measure in wanted], len(groups))
    numbers = {"place": places, "group_no": np.tile(np.arange(1, len(groups) + 1), len(wanted))}
    return numbers | {name: np.broadcast_to(column, shape).ravel() for name, column in columns.items()}


def joined(blocks: list[dict[str, np.ndarray]], columns: list[str]) -> pd.DataFrame:
    """The blocks below each other; a column that a block does not have is NaN there."""
    whole = {}
    for name in columns:
        parts = [one.get(name, np.full(len(one["place"]), np.nan)) for one in blocks]
        whole[name] = np.concatenate(parts)
    return pd.DataFrame(whole)
