"""How each anesthetic is done and how long it takes: technique, ventilation, agent, monitoring and the
stages of the case in minutes from induction (NaN: did not happen)."""

import numpy as np
import pandas as pd

from pipeline.simulate import clinic
from pipeline.simulate.heat import heat
from pipeline.simulate.plan import Plan, joined, pick
from pipeline.simulate.waking import waking

VENTILATED = ("exploratory laparotomy", "gastric torsion repair", "splenectomy")


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
    _minutes(cases, step["minutes"], rng)
    heat(plan, cases, plan.chance(8))
    waking(cases, plan.chance(9))
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
    used["nerve_block"] &= ~used["epidural"]  # local anesthetics add up
    used["local_infiltration"] &= ~(used["epidural"] | used["nerve_block"])
    used["tiva"] = (cases.agent == "none").to_numpy()
    for name, flag in used.items():
        cases[f"does_{name}"] = flag
    cases["techniques"] = joined(used, n)


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
