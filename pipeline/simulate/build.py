"""The clinic from its seed to its files, one step a line; start reading here."""

from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.simulate.absorbent import absorbent
from pipeline.simulate.caseload import caseload
from pipeline.simulate.clinic import PROCEDURES
from pipeline.simulate.course import course
from pipeline.simulate.drugs import drugs
from pipeline.simulate.equipment import equipment
from pipeline.simulate.events import events
from pipeline.simulate.exports import Exports
from pipeline.simulate.files import stamp
from pipeline.simulate.outcome import known_by, outcome
from pipeline.simulate.people import people
from pipeline.simulate.physiology import steps
from pipeline.simulate.plan import Plan, day_of
from pipeline.simulate.reading_faults import spoil_readings
from pipeline.simulate.readings import readings
from pipeline.simulate.row_faults import spoil_cases, spoil_drugs, spoil_equipment, spoil_events
from pipeline.simulate.schedule import schedule
from pipeline.simulate.settings_file import write_settings
from pipeline.simulate.stock import stock

STAGES = (
    "premed", "preoxygenation_start", "induction", "intubation", "vaporizer_on", "procedure_start", "procedure_end",
    "vaporizer_off", "ventilator_off", "spontaneous_breathing", "extubation", "sternal", "standing", "recovery_end",
    "outcome",
)  # fmt: skip


def build(folder: Path, plan: Plan) -> dict:
    """Makes the clinic of this plan in folder; returns what was planted, by name."""
    cases = caseload(plan)
    course(plan, cases)
    outcome(plan, cases)
    cases = schedule(plan, cases)
    known_by(plan, cases)
    parts = people(plan, cases)
    changes = absorbent(plan, cases)
    exports, faults = Exports(folder / "exports", plan), Counter()
    drug_rows, event_rows = [], []
    for month, rows in cases.groupby("month", sort=True).indices.items():
        month = int(month)
        now = cases.iloc[rows].reset_index(drop=True)
        done = steps(now, plan.chance(10, month))
        read = readings(now, done, plan.chance(11, month))
        if plan.faults:
            lately = month - plan.first >= plan.months * 2 // 3
            read, found = spoil_readings(now, read, plan.chance(40, month), lately)
            faults += found
        exports.vitals(month, now, read)
        drug_rows.append(_of_all(drugs(now, done.acts, plan.chance(12, month)), rows))
        event_rows.append(_of_all(events(now, done, plan.chance(13, month), not plan.faults), rows))
        cases.loc[rows, ["liquid_ml", "oxygen_l"]] = np.column_stack([done.liquid_ml, done.oxygen_l])
    given = _timed(pd.concat(drug_rows, ignore_index=True), cases, minute="given_at", stop="stopped_at")
    happened = _timed(pd.concat(event_rows, ignore_index=True), cases, minute="occurred_at", resolved="resolved_at")
    done_to = equipment(plan, cases, changes)
    movements, minimums = stock(plan, cases, given.assign(at=given.given_at), done_to)
    write_settings(folder, plan, minimums)
    parts["case_id"] = cases.case_id.to_numpy()[parts.case]
    written = case_rows(cases)
    right = written.copy()
    if plan.faults:
        faults += spoil_cases(written, plan.chance(41)) + spoil_drugs(given, plan.chance(42))
        faults += spoil_events(happened, plan.chance(43)) + spoil_equipment(done_to, plan.chance(44))
    month = cases.month.to_numpy()
    exports.cases(written, right, month)
    exports.table("case_people", parts, month[parts.case], overlap=True)
    exports.table("drugs", given, month[given.case], overlap=True)
    exports.table("events", happened, month[happened.case])
    exports.table("equipment", done_to)
    exports.table("stock", movements)
    return {
        "cases": len(cases),
        "readings": exports.readings,
        "programme_from": day_of(plan.programme_from),
        "overrun": tuple(day_of(minute) for minute in plan.overrun or ()),
        "faults": dict(sorted((faults + exports.faults).items())),
    }


def _of_all(rows: pd.DataFrame, positions: np.ndarray) -> pd.DataFrame:
    """Rows of a month's cases, by the cases' positions among all."""
    return rows.assign(case=positions[rows.case.to_numpy()])


def _timed(rows: pd.DataFrame, cases: pd.DataFrame, **names: str) -> pd.DataFrame:
    """Minutes from induction become local minutes, under their canonical names."""
    start = cases.at_induction.to_numpy()[rows.case.to_numpy()]
    times = {wanted: start + rows[name] for name, wanted in names.items()}
    return rows.assign(case_id=cases.case_id.to_numpy()[rows.case.to_numpy()], **times)


def case_rows(cases: pd.DataFrame) -> pd.DataFrame:
    """The columns of the table cases, times as charted."""
    rows = cases.copy()
    rows["procedure"] = np.array([step.name for step in PROCEDURES], object)[cases.procedure.to_numpy()]
    rows["procedure_group"] = cases.group
    for stage in STAGES:
        rows[f"{stage}_at"] = stamp(cases.at_induction + cases[f"m_{stage}"])
    rows["followed_until"] = stamp(cases.at_induction + cases.m_followed)
    return rows
