"""Which complications were charted: most that the readings show, some late or never, and those that no
monitor shows. Sick patients have more of both.

An episode here is what the product calls one: consecutive readings beyond the limit, at least two of
them before the end, five minutes or more.
"""

import numpy as np
import pandas as pd

from pipeline.simulate.physiology import Steps

# Share of detected episodes that somebody charts, at ASA 2; sicker patients are watched more closely.
CHARTED = {
    "hypotension": 0.5, "hypoventilation": 0.25, "hyperventilation": 0.1, "hypoxemia": 0.7,
    "hypothermia": 0.3, "bradycardia": 0.35, "tachycardia": 0.3,
}  # fmt: skip
WITHOUT_SIGN = 0.006  # charted though the readings show nothing

# Complications that no reading shows: chance at ASA 1 to 5, phase, earliest and latest minute from
# induction (share of the case where below 1).
OTHERS = {
    "apnea": ((0.012, 0.018, 0.03, 0.05, 0.08), "induction"),
    "arrhythmia": ((0.008, 0.016, 0.045, 0.1, 0.2), "maintenance"),
    "regurgitation": ((0.007, 0.011, 0.022, 0.04, 0.05), "maintenance"),
    "airway_obstruction": ((0.004, 0.007, 0.012, 0.016, 0.02), "recovery"),
    "difficult_intubation": ((0.006, 0.009, 0.012, 0.014, 0.02), "induction"),
    "light_plane": ((0.02, 0.02, 0.025, 0.03, 0.03), "maintenance"),
    "hemorrhage": ((0.003, 0.005, 0.016, 0.04, 0.08), "maintenance"),
    "ventilator_asynchrony": ((0.002, 0.004, 0.006, 0.01, 0.01), "maintenance"),
    "equipment_fault": ((0.004, 0.004, 0.004, 0.004, 0.004), "maintenance"),
    "drug_error": ((0.002, 0.002, 0.003, 0.004, 0.004), "induction"),
    "reintubation": ((0.0005, 0.001, 0.004, 0.008, 0.012), "recovery"),
    "aspiration": ((0.0003, 0.0008, 0.003, 0.006, 0.01), "recovery"),
    "hypertension": ((0.004, 0.007, 0.012, 0.014, 0.012), "maintenance"),
    "other": ((0.006, 0.008, 0.012, 0.016, 0.02), "maintenance"),
}
ACTIONS = {
    "hypotension": "gas turned down and fluid bolus",
    "hypoventilation": "ventilated by hand",
    "hyperventilation": "ventilator slowed",
    "hypoxemia": "oxygen and tube checked",
    "hypothermia": "active warming",
    "bradycardia": "anticholinergic considered",
    "tachycardia": "analgesia",
    "apnea": "ventilated by hand",
    "arrhythmia": "ECG watched",
    "regurgitation": "esophagus suctioned",
    "airway_obstruction": "airway cleared",
    "difficult_intubation": "smaller tube",
    "light_plane": "hypnotic given",
    "hemorrhage": "fluids",
    "dysphoria": "sedation",
    "cardiac_arrest": "resuscitation",
    "reintubation": "airway secured again",
}


def limits(cases: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest heart rate that is not an episode, by species and size; NaN: no limit."""
    dog, cat, kg = (cases.species == "dog").to_numpy(), (cases.species == "cat").to_numpy(), cases.weight_kg.to_numpy()
    size = [dog & (kg <= 10), dog & (kg <= 25), dog, cat]
    return np.select(size, [70, 60, 50, 100], np.nan), np.select(size, [190, 170, 150, 180], np.nan)


def episodes(cases: pd.DataFrame, done: Steps) -> dict[str, np.ndarray]:
    """Minute at which each case's first episode is established, NaN where there is none."""
    read = done.values
    slow, fast = limits(cases)
    pets = (cases.species != "rabbit").to_numpy()[:, None]
    pressure = np.where(np.isnan(read["map"]), read["sap"] < 90, read["map"] < 60)
    beyond = {
        "hypotension": pressure & pets,
        "hypoventilation": read["etco2"] > 45,
        "hyperventilation": (read["etco2"] < 35) & (read["etco2"] > 5),
        "hypoxemia": read["spo2"] < 95,
        "bradycardia": read["heart_rate"] < slow[:, None],
        "tachycardia": read["heart_rate"] > fast[:, None],
    }
    end = cases.m_extubation.fillna(cases.m_off).to_numpy()[:, None]
    found = {}
    for name, flag in beyond.items():
        pair = flag & np.pad(flag[:, :-1], ((0, 0), (1, 0))) & (done.minute < end)
        found[name] = np.where(pair.any(axis=1), done.minute[np.arange(len(cases)), pair.argmax(axis=1)], np.nan)
    cold = (read["temperature"] < 36.5) & pets
    found["hypothermia"] = np.where(cold.any(axis=1), done.minute[np.arange(len(cases)), cold.argmax(axis=1)], np.nan)
    return found


def events(cases: pd.DataFrame, done: Steps, rng: np.random.Generator, all_charted: bool) -> pd.DataFrame:
    """Event rows: case, event, minute, resolved, severity, phase, action."""
    n = len(cases)
    end = cases.m_extubation.fillna(cases.m_off).to_numpy()
    watched = np.array([0.8, 1.0, 1.25, 1.4, 1.5])[cases.asa_class - 1]
    rows = []
    for name, at in episodes(cases, done).items():
        there = ~np.isnan(at)
        seen = there if all_charted else there & (rng.random(n) < np.minimum(0.95, CHARTED[name] * watched))
        if not all_charted:
            usable = (cases.species != "rabbit").to_numpy() | (name in ("hypoventilation", "hypoxemia"))
            seen |= ~there & usable & (rng.random(n) < WITHOUT_SIGN) & (end > 40)
        at = np.where(there, at, np.round(end * 0.5))
        rows.append(
            _rows(name, np.flatnonzero(seen), np.minimum(at + rng.integers(0, 3, n), end), end, rng, "maintenance")
        )
    for name, (chance, phase) in OTHERS.items():
        here = np.flatnonzero(rng.random(n) < np.array(chance)[cases.asa_class - 1])
        late = end + rng.integers(1, 15, n) * ~np.isnan(cases.m_extubation.to_numpy())
        when = {"induction": np.minimum(1.0 + rng.integers(0, 8, n), end), "recovery": late}
        at = when.get(phase, np.round(10 + rng.random(n) * np.maximum(end - 15, 1)))
        rows.append(_rows(name, here, at, end, rng, phase))
    alive = ~np.isnan(cases.m_recovery_end.to_numpy())
    rows.append(_rows("dysphoria", np.flatnonzero(cases.gets_dysphoria & alive), end + 3, end, rng, "recovery"))
    slow = alive & (cases.m_sternal - cases.m_off > 30).to_numpy() & (all_charted | (rng.random(n) < 0.3))
    rows.append(_rows("prolonged_recovery", np.flatnonzero(slow), cases.m_off.to_numpy() + 31, end, rng, "recovery"))
    rows += _deaths(cases, end, rng)
    table = pd.concat(rows, ignore_index=True)
    return table.sort_values(["case", "minute", "event"], kind="stable", ignore_index=True)


def _rows(name, case, at, end, rng, phase) -> pd.DataFrame:
    severity = rng.choice(["minor", "moderate", "severe"], len(case), p=[0.62, 0.31, 0.07])
    lasts = at[case] + 3 + np.round(rng.gamma(1.5, 8, len(case)))
    resolved = np.where(
        rng.random(len(case)) < 0.7, np.maximum(at[case] + 1, np.minimum(lasts, end[case] + 30)), np.nan
    )
    return pd.DataFrame({"case": case, "event": name, "minute": at[case], "resolved": resolved, "severity": severity,
                         "phase": phase, "action": ACTIONS.get(name)})  # fmt: skip


def _deaths(cases: pd.DataFrame, end: np.ndarray, rng) -> list[pd.DataFrame]:
    """An arrest and a death are charted with the anesthetic while the team is there, within a day."""
    at = cases.m_outcome.to_numpy()
    here = np.flatnonzero((cases.outcome == "died").to_numpy() & (at < end + 24 * 60))
    phase = np.where(cases.dies_during, "maintenance", "recovery")[here]
    arrest = _rows("cardiac_arrest", here, at - 6, end, rng, phase).assign(resolved=np.nan, severity="severe")
    death = _rows("death", here, at, end, rng, phase).assign(resolved=np.nan, severity="severe")
    return [arrest, death]
