"""Which rows go into which file: readings a month a file, the rest in a few files that follow each
other or overlap, and in a record with faults a corrected export and one made twice."""

from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.schema import TABLES
from pipeline.simulate.files import export, export_readings, stamp
from pipeline.simulate.plan import DAY, Plan, month_of, month_start
from pipeline.simulate.readings import CODE
from pipeline.simulate.text_faults import spoil_cells, spoil_vitals

MONTHS_A_FILE = 7
BAD_CASE_CELLS = [
    ("weight_kg", "about 9"), ("species", "felin"), ("extubation_at", "2025-02-30 10:15:00"), ("asa_class", "2-3"),
]  # fmt: skip


class Exports:
    """Writes into the exports folder and counts the faults of whole files."""

    def __init__(self, folder: Path, plan: Plan):
        self.folder, self.plan, self.faults, self.readings = folder, plan, Counter(), 0
        folder.mkdir(parents=True, exist_ok=True)

    def vitals(self, month: int, cases: pd.DataFrame, read: pd.DataFrame) -> None:
        """A month's readings; the file before last is exported again for one week, a few readings mended."""
        plan = self.plan
        wide = plan.vitals == "wide" or (plan.vitals == "mixed" and month % 2 == 0)
        case, value = read.case.to_numpy(), read.value.to_numpy()
        at = cases.at_induction.to_numpy()[case] + read.minute.to_numpy()
        ids, parameter = cases.case_id.to_numpy()[case], read.parameter.to_numpy()
        name = f"vitals_{_name(month)}"
        export_readings(self.folder, f"{name}.csv", ids, at, parameter, value, wide)
        self.readings += len(read)
        place = month - plan.first
        if plan.faults and not wide and place % 3 == 1:
            self.faults += spoil_vitals(self.folder / f"{name}.csv", plan.chance(45, month), orphans=place in (4, 13))
        if plan.faults and plan.months > 3 and place == plan.months - 2:
            week = np.flatnonzero(at < month_start(month) + 8 * DAY)
            beats = week[(parameter[week] == CODE["heart_rate"]) & (value[week] > 0)]
            rng = plan.chance(46)
            mended = value.copy()
            some = rng.choice(beats, min(12, len(beats)), replace=False)
            mended[some] = value[some] + 1
            export_readings(
                self.folder,
                f"vitals_again_{_name(month)}.csv",
                ids[week],
                at[week],
                parameter[week],
                mended[week],
                wide,
            )
            self.faults["reading corrected by a later export"] += len(some)

    def cases(self, written: pd.DataFrame, right: pd.DataFrame, month: np.ndarray) -> None:
        """The case rows as written; at the end two months again, their missing values filled in."""
        self.table("cases", written, month)
        plan = self.plan
        if not plan.faults or plan.months < 4:
            return
        first = sorted(self.folder.glob("cases*.csv"))[0]
        self.faults += spoil_cells(first, BAD_CASE_CELLS, plan.chance(47))
        begins = plan.first + plan.months - 3
        again = (month == begins) | (month == begins + 1)
        mended = written[again].copy()
        changed = np.zeros(len(mended), bool)
        for name in ("asa_class", "weight_kg", "vaporizer_off_at", "extubation_at"):
            before, mended[name] = mended[name], right[name][again]
            changed |= ((before != mended[name]) & mended[name].notna()).to_numpy()
        export(self.folder, f"cases_corrected_{_name(begins)}_{_name(begins + 1)}.csv", "cases", mended)
        self.faults["case corrected by a later export"] += int(changed.sum())

    def table(self, table: str, rows: pd.DataFrame, month: np.ndarray | None = None, overlap: bool = False) -> None:
        """One table in files of several months each. overlap: each file begins with the month the one
        before it ended with. month: of each row; without it, the month of its own time."""
        plan = self.plan
        month = month_of(rows["at"]) if month is None else month
        last = plan.first + plan.months  # the partial month
        month = np.clip(month, plan.first, last)
        times = [column.name for column in TABLES[table].columns if column.kind == "time" and column.name in rows]
        rows = rows.assign(**{name: stamp(rows[name]) for name in times if rows[name].dtype.kind != "M"})
        if plan.months <= MONTHS_A_FILE:
            export(self.folder, f"{table}.csv", table, rows)
            return
        for begins in range(plan.first, last, MONTHS_A_FILE):
            ends = begins + MONTHS_A_FILE - 1 if begins + MONTHS_A_FILE < last else last
            here = (month >= begins - (overlap and begins > plan.first)) & (month <= ends)
            export(self.folder, f"{table}_{_name(begins)}_{_name(ends)}.csv", table, rows[here])


def _name(month_no: int) -> str:
    return f"{month_no // 12}-{month_no % 12 + 1:02d}"
