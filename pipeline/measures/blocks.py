"""Counts by measure and group as matrices, one row a measure and one column a group of `group_counts`."""

import numpy as np
import pyarrow

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


class Samples:
    """A table of counts by measure, group and value, in this order: arrays of equal length.

    measure, group: row and column of the matrices; value: rising within these; counts: the columns asked for;
    starts: where each measure and group begins, and the length at the end
    """

    def __init__(self, db, table: str, value: str, columns: tuple[str, ...], names: list[str], groups: Groups):
        found = db.execute(
            f"""
            SELECT asked.no, group_no - 1 AS group_no, {value}, {", ".join(columns)}
            FROM {table} JOIN (SELECT unnest($names) AS measure, unnest(range(len($names))) AS no) AS asked
                USING (measure)
            """,
            {"names": names},
        ).fetchnumpy()
        small = np.min_scalar_type(max(len(groups), len(names)))  # numbers of 16 bits are sorted four times as fast
        order = np.lexsort((found[value], found["group_no"].astype(small), found["no"].astype(small)))
        self.measure, self.group, self.value, *self.counts = (column[order] for column in found.values())
        new = (np.diff(self.measure) != 0) | (np.diff(self.group) != 0)
        self.starts = np.array([0, *(np.flatnonzero(new) + 1), len(order)] if len(order) else [0])
        self.shape = len(names)

    def matrix(self, values: np.ndarray, groups: Groups, missing: float) -> np.ndarray:
        """One value a measure and group of the sample as a matrix of all."""
        filled = np.full((self.shape, len(groups)), missing)
        filled[self.measure[self.starts[:-1]], self.group[self.starts[:-1]]] = values
        return filled


def block(wanted: list[Measure], groups: Groups, **columns: np.ndarray) -> dict[str, np.ndarray]:
    """Rows of `results` for every measure wanted in every group: columns by name, all of one length."""
    shape = (len(wanted), len(groups))
    places = np.repeat([measure.place for measure in wanted], len(groups))
    numbers = {"place": places, "group_no": np.tile(np.arange(1, len(groups) + 1), len(wanted))}
    return numbers | {name: np.broadcast_to(column, shape).ravel() for name, column in columns.items()}


def joined(blocks: list[dict[str, np.ndarray]], columns: list[str]) -> pyarrow.Table:
    """The blocks below each other; a column that a block does not have is NaN there."""
    whole = {}
    for name in columns:
        parts = [one.get(name, np.full(len(one["place"]), np.nan)) for one in blocks]
        whole[name] = np.concatenate(parts)
    return pyarrow.table(whole)
