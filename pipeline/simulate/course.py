"""How each anesthetic is done and how long it takes: technique, ventilation, agent, warming, the
stages of the case in minutes from induction, and how far the animal cools.

Cooling follows two published pictures: the last temperature of the anesthetic in Redondo 2012 (dogs
83.6 % below 38.5 and 32.1 % below 36.5 °C; cats 97.4 % and 70.9 %), which the months before the
warming programme imitate, and its shape over time (fast in the first hour, slow after).
Extubation follows the slopes of a 900-dog recovery study (7.9 min for acepromazine, 5.9 min a °C lost,
5.8 min an hour); the mean of 5 to 15 min is common practice.
"""

import numpy as np
import pandas as pd

from pipeline.simulate import clinic
from pipeline.simulate.plan import DAY, Plan, pick

COOLING_MIN = 45.0  # time constant of the first fall
AWAKE = {"dog": 38.45, "cat": 38.25, "rabbit": 38.6}
FALL = {"dog": 1.32, "cat": 2.8, "rabbit": 2.6}
VENTILATED = ("exploratory laparotomy", "gastric torsion repair", "splenectomy")
USUAL_KG = {"dog": 14.0, "cat": 4.3, "rabbit": 2.2}


def course(plan: Plan, cases: pd.DataFrame) -> None:
    """Adds to cases what was done and the stages in minutes from induction (NaN: did not happen)."""
    rng = plan.chance(3)
    step = {
        field: np.array([getattr(one, field) for one in clinic.PROCEDURES])[cases.procedure.to_numpy()]
        for field in ("name", "group", "minutes", "cooling", "pain")
    }
    for field in ("group", "cooling", "pain"):
        cases[field] = step[field]
    _airway_and_gas(cases, rng)
    _techniques(cases, rng)
    _warming(plan, cases, rng)
    _minutes(cases, step["minutes"], rng)
    _temperature(cases, rng)
    _recovery(cases, rng)
    _premedication_lead(cases, rng)


def _airway_and_gas(cases: pd.DataFrame, rng) -> None:
    n, kg = len(cases), cases.weight_kg.to_numpy()
    dog, rabbit = (cases.species == "dog").to_numpy(), (cases.species == "rabbit").to_numpy()
    short = cases.group.isin(["imaging", "other"]).to_numpy()
    tiva = rng.random(n) < np.where(dog & short, 0.16, 0.03)
    cases["agent"] = np.where(tiva, "none", np.where(rng.random(n) < 0.64, "isoflurane", "sevoflurane"))
    draw = rng.random(n)
    in_rabbits = np.where(draw < 0.5, "tracheal_tube", np.where(draw < 0.85, "supraglottic", "mask"))
    cases["airway"] = np.where(rabbit, in_rabbits, np.where(draw < 0.985, "tracheal_tube", "supraglottic"))
    tube = np.where(dog, 2.6 * kg**0.42, np.where(rabbit, 2.0 * kg**0.4, 2.6 * kg**0.32))
    cases["tube_id_mm"] = np.where(cases.airway == "tracheal_tube", np.round(tube * 2) / 2, np.nan)
    cases["breathing_system"] = np.where(kg < rng.choice([3.0, 5.0], n, p=[0.7, 0.3]), "non_rebreathing", "rebreathing")
    bag = np.select([kg * 60 <= 500, kg * 60 <= 1000, kg * 60 <= 2000], [500, 1000, 2000], 3000)
    cases["bag_ml"] = bag
    grave = [number for number, step in enumerate(clinic.PROCEDURES) if step.name in VENTILATED]
    major = cases.group.isin(["neurologic", "ophthalmic"]) | cases.procedure.isin(grave)
    mechanical = np.where(major, 0.72, 0.24) + 0.05 * (cases.asa_class > 2)
    draw = rng.random(n)
    mode = np.where(draw < mechanical, "mechanical", np.where(draw < mechanical + 0.15, "assisted", "spontaneous"))
    small = (cases.airway == "mask").to_numpy() | (
        (cases.breathing_system == "non_rebreathing") & (mode == "mechanical")
    ).to_numpy()
    cases["ventilation"] = np.where(small, "spontaneous", mode)


def _techniques(cases: pd.DataFrame, rng) -> None:
    n = len(cases)
    group, pain, asa = cases.group.to_numpy(), cases.pain.to_numpy(), cases.asa_class.to_numpy()
    rabbit = (cases.species == "rabbit").to_numpy()
    tube = (cases.ventilation == "mechanical").to_numpy()
    shares = {
        "epidural": np.where((group == "orthopedic") | (group == "obstetric"), 0.36, np.where(pain > 1, 0.08, 0))
        * ~rabbit,
        "nerve_block": np.select(
            [group == "dental", group == "orthopedic", group == "ophthalmic"], [0.7, 0.35, 0.45], 0.04
        ),
        "local_infiltration": np.where((group == "soft_tissue") & (pain > 0), 0.35, 0.02),
        "arterial_line": np.where(rabbit, 0, np.select([asa > 3, asa == 3], [0.62, 0.28], 0.04)),
        "central_line": np.where(asa > 3, 0.16, 0.005),
        "neuromuscular_block": np.where((group == "ophthalmic") & tube, 0.6, np.where(tube, 0.03, 0)),
        "analgesic_infusion": np.where(rabbit, 0.02, np.select([pain > 1, pain == 1], [0.4, 0.1], 0.02)),
    }
    used = {name: rng.random(n) < share for name, share in shares.items()}
    used["tiva"] = (cases.agent == "none").to_numpy()
    for name, flag in used.items():
        cases[f"does_{name}"] = flag
    cases["techniques"] = _joined(used, n)


def _warming(plan: Plan, cases: pd.DataFrame, rng) -> None:
    n, kg = len(cases), cases.weight_kg.to_numpy()
    started = plan.programme_from is not None and (cases.day * DAY >= plan.programme_from).to_numpy()
    air = np.where(started, np.where(kg < 10, 0.94, 0.6), np.where(kg < 10, 0.2, 0.14))
    used = {
        "blanket": rng.random(n) < 0.9,
        "circulating_water": rng.random(n) < 0.34,
        "forced_air": rng.random(n) < air,
    }
    used["warmed_fluids"] = rng.random(n) < np.where(cases.asa_class > 2, 0.4, 0.1)
    used["prewarming"] = rng.random(n) < np.where(started, np.where(kg < 10, 0.72, 0.2), 0.02)
    used["blanket"] |= ~(used["circulating_water"] | used["forced_air"])
    factor = np.where(used["forced_air"], 0.71, np.where(used["circulating_water"], 0.93, 1.08))
    factor = factor * np.where(used["prewarming"], 0.86, 1) * np.where(used["warmed_fluids"], 0.97, 1)
    cases["warmth"] = factor
    cases["warming"] = _joined(used, n)
    cases["does_forced_air"] = used["forced_air"]


def _joined(used: dict[str, np.ndarray], n: int) -> list[str]:
    words = np.full(n, "", object)
    for name, flag in used.items():
        here = np.asarray(flag, bool)
        words[here] = np.where(words[here] == "", name, words[here] + ";" + name)
    return list(words)


def _minutes(cases: pd.DataFrame, minutes: np.ndarray, rng) -> None:
    n = len(cases)
    tube = (cases.airway != "mask").to_numpy()
    inhalant = (cases.agent != "none").to_numpy()
    cases["m_induction"] = 0.0
    cases["m_preoxygenation_start"] = np.where(rng.random(n) < 0.9, -rng.integers(3, 7, n), np.nan)
    cases["m_intubation"] = np.where(tube, rng.integers(2, 7, n), np.nan)
    cases["m_vaporizer_on"] = np.where(
        inhalant, np.nan_to_num(cases.m_intubation, nan=1.0) + rng.integers(0, 3, n), np.nan
    )
    prepare = np.select([cases.group == "imaging", cases.group == "dental"], [12, 14], 28) * np.where(
        cases.emergency, 0.75, 1
    )
    start = np.round(10 + prepare * np.exp(0.25 * rng.standard_normal(n)))
    length = np.round(
        np.maximum(8, minutes * np.exp(0.34 * rng.standard_normal(n)) * (1 + 0.05 * (cases.asa_class > 3)))
    )
    cases["m_procedure_start"] = start
    cases["m_procedure_end"] = start + length
    off = start + length + np.round(rng.gamma(2.0, 1.6, n))
    cases["m_off"] = off  # vaporizer off, or the hypnotic infusion stopped
    cases["m_vaporizer_off"] = np.where(inhalant, off, np.nan)
    mechanical = (cases.ventilation == "mechanical").to_numpy()
    ventilator = off - rng.integers(0, 4, n)
    cases["m_ventilator_off"] = np.where(mechanical, ventilator, np.nan)
    cases["m_spontaneous_breathing"] = np.where(mechanical, ventilator + rng.integers(1, 5, n), np.nan)


def _temperature(cases: pd.DataFrame, rng) -> None:
    n, kg = len(cases), cases.weight_kg.to_numpy()
    usual = cases.species.map(USUAL_KG).to_numpy()
    size = (kg / usual) ** np.where(cases.species == "dog", -0.42, -0.3)
    drop = cases.species.map(FALL).to_numpy() * size * cases.cooling * cases.warmth
    spread = np.where(cases.species == "dog", 0.56, 0.34)
    cases["t_start"] = cases.species.map(AWAKE).to_numpy() + rng.normal(0, 0.5, n)
    cases["t_drop"] = np.clip(
        drop * np.exp(spread * rng.standard_normal(n) - spread**2 / 2) + rng.normal(0, 0.9, n), -0.9, 5.5
    )


def temperature_at(cases: pd.DataFrame, minutes: np.ndarray) -> np.ndarray:
    """Core temperature [°C] at minutes from induction, up to the end of the anesthetic."""
    fall = 1 - np.exp(-np.maximum(minutes, 0) / COOLING_MIN)
    slow = 0.10 * np.sign(cases.t_drop) * np.minimum(np.abs(cases.t_drop), 1) * np.maximum(minutes - 60, 0) / 60
    return cases.t_start.to_numpy() - (cases.t_drop * fall + slow).to_numpy()


def core_temperature(cases: pd.DataFrame, minute: np.ndarray) -> np.ndarray:
    """Core temperature [°C] on a grid, cases by marks, of minutes from induction."""
    return np.stack([temperature_at(cases, minute[:, mark]) for mark in range(minute.shape[1])], axis=1)


def _recovery(cases: pd.DataFrame, rng) -> None:
    n = len(cases)
    off = cases.m_off.to_numpy()
    lost = np.maximum(0, cases.t_start - temperature_at(cases, off))
    hours = off / 60
    dog = (cases.species == "dog").to_numpy()
    cases["gets_acepromazine"] = dog & (cases.asa_class < 3) & (rng.random(n) < 0.42)
    alpha2 = np.select([cases.species == "cat", cases.species == "dog"], [0.6, 0.62], 0.0)
    cases["gets_alpha2"] = ~cases.gets_acepromazine & (cases.asa_class < 3) & (rng.random(n) < alpha2)
    cases["gets_dysphoria"] = (cases.species != "rabbit") & (rng.random(n) < 0.035)
    sevoflurane = np.where(cases.agent == "sevoflurane", -0.7, 0.0)
    dogs = 11.5 + 7.9 * (cases.gets_acepromazine - 0.25) + 5.9 * (lost - 1.3) + 5.8 * (hours - 1.6)
    others = 7.0 + 1.9 * (lost - 2.4) + 2.0 * (hours - 1.5)
    wait = np.where(dog, dogs, others) + sevoflurane + rng.normal(0, 2.8, n)
    wait = np.where(wait > 4, wait, 4 * np.exp((wait - 4) / 9))  # never negative, hardly ever under 2
    cases["m_extubation"] = off + np.maximum(1, np.round(wait))
    cold = np.maximum(0, 36.5 - temperature_at(cases, off))
    ill = np.array([1.0, 1.0, 1.25, 1.6, 2.0])[cases.asa_class - 1]
    cases["m_sternal"] = cases.m_extubation + np.round(rng.gamma(1.6, (3.6 + 2.2 * cold) * ill))
    cases["m_standing"] = cases.m_sternal + np.round(1 + rng.gamma(1.8, (6 + 3 * cold) * ill))
    handed = np.maximum(cases.m_standing + rng.integers(5, 25, n), cases.m_extubation + 30)
    cases["m_recovery_end"] = handed + np.round(18 * cold + rng.gamma(2, 9 * ill))


def _premedication_lead(cases: pd.DataFrame, rng) -> None:
    lead = np.where(cases.emergency, rng.integers(8, 22, len(cases)), rng.integers(25, 62, len(cases)))
    cases["m_premed"] = -lead.astype(float)
    cases["fasting_hours"] = np.select(
        [cases.species == "rabbit", cases.emergency], [rng.integers(0, 3, len(cases)), rng.integers(1, 10, len(cases))],
        rng.integers(5, 14, len(cases)),
    ).astype(float)  # fmt: skip
    cases["pressure"] = pick(rng, ("oscillometric", "doppler", "none"), (0.84, 0.09, 0.07), len(cases))
    cases.loc[cases.does_arterial_line, "pressure"] = "invasive"
    cases.loc[(cases.species == "rabbit") & (rng.random(len(cases)) < 0.6), "pressure"] = "none"
