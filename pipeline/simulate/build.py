"""The clinic from its seed to its files, one step a line; start reading here."""

from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.schema import TABLES
from pipeline.simulate.absorbent import absorbent
from pipeline.simulate.caseload import caseload
from pipeline.simulate.course import course
from pipeline.simulate.drugs import drugs
from pipeline.simulate.equipment import equipment
from pipeline.simulate.events import events
from pipeline.simulate.files import export, export_readings, stamp
from pipeline.simulate.outcome import known_by, outcome
from pipeline.simulate.people import people
from pipeline.simulate.physiology import steps
from pipeline.simulate.plan import Plan
from pipeline.simulate.readings import readings
from pipeline.simulate.schedule import schedule
from pipeline.simulate.settings_file import write_settings
from pipeline.simulate.stock import stock

STAGES = (
    "premed", "preoxygenation_start", "induction", "intubation", "vaporizer_on", "procedure_start", "procedure_end",
    "vaporizer_off", "ventilator_off", "spontaneous_breathing", "extubation", "sternal", "standing", "recovery_end", "outcome",
)  # fmt: skip


def build(folder: Path, plan: Plan) -> dict:
    """Makes the clinic of this plan in folder; returns what was planted."""
    cases = caseload(plan)
    course(plan, cases)
    outcome(plan, cases)
    cases = schedule(plan, cases)
    known_by(plan, cases)
    parts = people(plan, cases)
    changes = absorbent(plan, cases)
    exports = folder / "exports"
    drug_rows, event_rows = [], []
    for month, rows in cases.groupby("month", sort=True).indices.items():
        month = int(month)
        now = cases.iloc[rows].reset_index(drop=True)
        done = steps(now, plan.chance(10, month))
        read = readings(now, done, plan.chance(11, month))
        write_vitals(plan, exports, month, now, read)
        drug_rows.append(_of_all(drugs(now, done.acts, plan.chance(12, month)), rows))
        event_rows.append(_of_all(events(now, done, plan.chance(13, month), not plan.faults), rows))
        cases.loc[rows, ["liquid_ml", "oxygen_l"]] = np.column_stack([done.liquid_ml, done.oxygen_l])
    given = _timed(pd.concat(drug_rows, ignore_index=True), cases, minute="given_at", stop="stopped_at")
    happened = _timed(pd.concat(event_rows, ignore_index=True), cases, minute="occurred_at", resolved="resolved_at")
    done_to = equipment(plan, cases, changes)
    movements, minimums = stock(plan, cases, given.assign(at=given.given_at), done_to)
    write_settings(folder, plan, minimums)
    parts["case_id"] = cases.case_id.to_numpy()[parts.case]
    tables = {"cases": case_rows(cases), "case_people": parts, "drugs": given, "events": happened}
    tables |= {"equipment": done_to, "stock": movements}
    for name, rows in tables.items():
        export(exports, f"{name}.csv", name, _stamped(rows, name))
    return {}


def _of_all(rows: pd.DataFrame, positions: np.ndarray) -> pd.DataFrame:
    """Rows of a month's cases, by the cases' positions among all."""
    return rows.assign(case=positions[rows.case.to_numpy()])


def _timed(rows: pd.DataFrame, cases: pd.DataFrame, **names: str) -> pd.DataFrame:
    """Minutes from induction become local minutes, under their canonical names."""
    start = cases.at_induction.to_numpy()[rows.case.to_numpy()]
    times = {wanted: start + rows[name] for name, wanted in names.items()}
    return rows.assign(case_id=cases.case_id.to_numpy()[rows.case.to_numpy()], **times)


def _stamped(rows: pd.DataFrame, table: str) -> pd.DataFrame:
    times = [column.name for column in TABLES[table].columns if column.kind == "time" and column.name in rows]
    return rows.assign(**{name: stamp(rows[name]) for name in times if rows[name].dtype.kind != "M"})


def write_vitals(plan: Plan, exports: Path, month: int, cases: pd.DataFrame, read: pd.DataFrame) -> None:
    """One file of a month's readings."""
    wide = plan.vitals == "wide" or (plan.vitals == "mixed" and month % 2 == 0)
    case = read.case.to_numpy()
    at = cases.at_induction.to_numpy()[case] + read.minute.to_numpy()
    name = f"vitals_{month // 12}-{month % 12 + 1:02d}.csv"
    export_readings(
        exports, name, cases.case_id.to_numpy()[case], at, read.parameter.to_numpy(), read.value.to_numpy(), wide
    )


def case_rows(cases: pd.DataFrame) -> pd.DataFrame:
    """The columns of the table cases, times as charted."""
    from pipeline.simulate.clinic import PROCEDURES

    rows = cases.copy()
    rows["procedure"] = np.array([step.name for step in PROCEDURES], object)[cases.procedure.to_numpy()]
    rows["procedure_group"] = cases.group
    for stage in STAGES:
        rows[f"{stage}_at"] = stamp(cases.at_induction + cases[f"m_{stage}"])
    rows["followed_until"] = stamp(cases.at_induction + cases.m_followed)
    return rows
