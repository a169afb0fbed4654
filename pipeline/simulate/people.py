"""Who gave each anesthetic, who learned and who supervised; codes only."""

import numpy as np
import pandas as pd

from pipeline.simulate import clinic
from pipeline.simulate.plan import DAY, Plan


def people(plan: Plan, cases: pd.DataFrame) -> pd.DataFrame:
    """Adds anesthetist, supervisor, trainee, trainee_role to cases; returns the rows of case_people.

    Nurses, residents and students stand at a machine for a day, so nobody is in two cases at once
    at one site.
    """
    rng = plan.chance(6)
    n = len(cases)
    day = cases.at_induction.to_numpy() // DAY
    machine = cases.machine_id.str.extract(r"M(\d+)$")[0].astype(int).to_numpy() - 1
    site = pd.factorize(cases.site, sort=True)[0]
    suffix = np.array(["", *(f"-{number}" for number in range(2, plan.sites + 1))], object)[site]
    nurses = _enough(clinic.NURSES, plan.machines)
    cases["anesthetist"] = np.array(nurses, object)[(machine + day * plan.machines) % len(nurses)] + suffix
    cases["supervisor"] = np.array(clinic.SUPERVISORS, object)[(day // 7 + machine // 3) % 3] + suffix
    month = cases.month.to_numpy() - plan.first
    resident, role = np.full(n, None, object), np.full(n, None, object)
    draw, part = rng.random(n), rng.random(n)
    for number, (code, since, until) in enumerate(clinic.RESIDENTS):
        here = (month >= since) & (month < until) & ((machine + day) % max(5, plan.machines) == number) & (draw < 0.86)
        own = np.where(month - since > 10, 0.85, 0.55)
        resident[here] = (code + suffix)[here]
        role[here] = np.where(part < own, "primary", "assisting")[here]
    student, student_role = _students(plan, machine, day, suffix, rng)
    alone = pd.isna(resident)
    cases["trainee"] = np.where(alone, student, resident)
    cases["trainee_role"] = np.where(alone, student_role, role)
    return _parts(cases, np.where(alone, None, student), student_role, nurses, rng)


def _enough(codes: tuple[str, ...], machines: int) -> list[str]:
    return list(codes) + [f"N{number:02d}" for number in range(len(codes) + 1, 2 * machines + 1)]


def _students(plan: Plan, machine, day, suffix, rng):
    n = len(day)
    first_day = plan.first_minute // DAY
    rotation = (day - first_day) // clinic.ROTATION_DAYS
    place = (machine + day) % max(4, plan.machines)
    number = rotation * clinic.STUDENTS_AT_A_TIME + place + 1
    there = (place < clinic.STUDENTS_AT_A_TIME) & (rng.random(n) < 0.75)
    code = np.array([f"T{value:03d}" for value in number], object) + suffix
    draw = rng.random(n)
    role = np.where(draw < 0.1, "primary", np.where(draw < 0.68, "assisting", "observing")).astype(object)
    return np.where(there, code, None), np.where(there, role, None)


def _parts(cases: pd.DataFrame, second, second_role, nurses, rng) -> pd.DataFrame:
    """One row a part: nurse, supervisor, trainee, a second trainee, handovers and changes of part."""
    n = len(cases)
    start = cases.at_induction.to_numpy()
    length = cases.m_extubation.fillna(cases.m_off).to_numpy()
    whole = pd.DataFrame({"case": np.arange(n), "from_at": start, "to_at": start + length})
    halfway = start + (length // 2)
    led = (cases.trainee_role == "primary").to_numpy()
    handed = (length > 170) & (rng.random(n) < 0.5)
    relief = np.array(
        [nurses[(nurses.index(code.split("-")[0]) + 3) % len(nurses)] for code in cases.anesthetist], object
    )
    relief = np.array([code + tail[3:] for code, tail in zip(relief, cases.anesthetist, strict=True)], object)
    nurse_role = np.where(led, "assisting", "primary")
    grows = (cases.trainee_role == "observing").to_numpy() & (length > 75) & (rng.random(n) < 0.3)
    trained = cases.trainee.notna().to_numpy()
    rows = [
        whole.assign(person=cases.anesthetist, role=nurse_role, to_at=np.where(handed, halfway, start + length)),
        whole.assign(person=relief, role=nurse_role, from_at=halfway)[handed],
        whole.assign(person=cases.supervisor, role="supervising"),
        whole.assign(person=cases.trainee, role=cases.trainee_role, to_at=np.where(grows, halfway, start + length))[
            trained
        ],
        whole.assign(person=cases.trainee, role="assisting", from_at=halfway)[grows],
        whole.assign(person=second, role=np.where(second_role == "primary", "assisting", second_role))[
            pd.notna(second)
        ],
    ]
    return pd.concat(rows).sort_values(["case", "from_at", "role", "person"], kind="stable", ignore_index=True)
