"""What sets one invented patient apart from another: its gas, pressure, heart, breath and lungs.

MAC [vol %]: isoflurane 1.28 dog, 1.6 cat, 2.1 rabbit; sevoflurane 2.36, 2.6, 3.7.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd

MAC = {
    ("isoflurane", "dog"): 1.28, ("isoflurane", "cat"): 1.60, ("isoflurane", "rabbit"): 2.10,
    ("sevoflurane", "dog"): 2.36, ("sevoflurane", "cat"): 2.60, ("sevoflurane", "rabbit"): 3.70,
}  # fmt: skip
AWAKE_MAP = {"dog": 86.0, "cat": 84.5, "rabbit": 72.0}


def traits(cases: pd.DataFrame, rng: np.random.Generator) -> SimpleNamespace:
    """One array a trait, one value a case; times in minutes from induction."""
    one = SimpleNamespace(n=len(cases))
    one.off = cases.m_off.to_numpy()
    one.on = cases.m_vaporizer_on.fillna(0).to_numpy()
    one.cut, one.closed = (cases[name].fillna(999).to_numpy() for name in ("m_procedure_start", "m_procedure_end"))
    blocked = (cases.does_nerve_block | cases.does_epidural).to_numpy()
    one.pain = cases.pain.to_numpy() * (1 - 0.6 * blocked)
    _gas(one, cases, rng)
    _circulation(one, cases, rng)
    _breath(one, cases, rng)
    _lungs(one, cases, rng)
    return one


def _gas(one: SimpleNamespace, cases: pd.DataFrame, rng) -> None:
    """The dial each needs: less with a block, an epidural, an infusion, a sedative, or when ill."""
    one.inhales = (cases.agent != "none").to_numpy()
    one.mac = np.array([MAC.get(pair, 1.0) for pair in zip(cases.agent, cases.species, strict=True)])
    spared = 0.10 * cases.does_nerve_block + 0.16 * cases.does_epidural + 0.2 * cases.does_analgesic_infusion
    spared += 0.18 * cases.gets_alpha2 + 0.03 * cases.asa_class
    one.need = np.clip(rng.normal(1.24, 0.13, one.n) - spared.to_numpy(), 0.7, 1.7) * one.mac
    one.dial_top = np.where(cases.agent == "isoflurane", 4.5, 7.5)


def _circulation(one: SimpleNamespace, cases: pd.DataFrame, rng) -> None:
    dog, cat = (cases.species == "dog").to_numpy(), (cases.species == "cat").to_numpy()
    kg, alpha2 = cases.weight_kg.to_numpy(), cases.gets_alpha2.to_numpy()
    moved = 7 * cases.gets_alpha2 - 4 * cases.gets_acepromazine - 4 * cases.does_epidural
    moved -= 3 * (cases.ventilation == "mechanical") + 2.9 * (cases.asa_class - 1)
    one.pressure = cases.species.map(AWAKE_MAP).to_numpy() + rng.normal(0, 9, one.n) + moved.to_numpy()
    one.measured = (cases.pressure != "none").to_numpy()
    usual = np.where(dog, 97 * (kg / 10) ** -0.17 * 0.92, np.where(cat, 141 * 0.96, 225 * 0.92))  # under an opioid
    slowed = np.where(alpha2, np.where(cat, 0.84, 0.72), 1)
    racing = 0.36 * ((rng.random(one.n) < 0.025) & (dog | cat))
    one.rate = usual * slowed * np.exp(rng.normal(0, 0.13, one.n) + racing)
    one.rate_low = np.where(dog, np.select([kg <= 10, kg <= 25], [70, 60], 50), np.where(cat, 100, 140))


def _breath(one: SimpleNamespace, cases: pd.DataFrame, rng) -> None:
    n = one.n
    dog, cat = (cases.species == "dog").to_numpy(), (cases.species == "cat").to_numpy()
    one.machine, by_hand = ((cases.ventilation == mode).to_numpy() for mode in ("mechanical", "assisted"))
    set_high = rng.random(n) < 0.17
    machine = np.where(set_high, rng.normal(32.3, 1.5, n), rng.normal(38.6, 2.6, n))
    alone = np.where(by_hand, rng.normal(42.6, 3.0, n), rng.normal(42.0, 5.0, n))
    one.co2 = np.where(one.machine, machine, alone)
    one.co2_climb = np.where(one.machine | by_hand, 0.0, rng.normal(2.0, 1.2, n)) / 60
    one.breaths = np.where(one.machine, rng.normal(12, 1.6, n), rng.normal(13, 3, n))
    one.breaths *= np.where(dog, 1, np.where(cat, 1.4, 2.6))
    one.spent = cases.spent_from.to_numpy()
    one.spends = (cases.spent_to - cases.spent_from).to_numpy()
    open_system = (cases.breathing_system == "non_rebreathing").to_numpy()
    one.leaks = rng.random(n) < np.where(open_system, 0.12, 0.02)


def _lungs(one: SimpleNamespace, cases: pd.DataFrame, rng) -> None:
    """Saturation on oxygen, and in a few a dip: first mark, marks, depth."""
    n = one.n
    one.oxygen = rng.choice([99.0, 98.6, 98.0, 97.4], n, p=[0.4, 0.35, 0.18, 0.07]) - 0.35 * (cases.asa_class > 3)
    chance = 0.02 + 0.03 * (cases.asa_class > 2) + 0.05 * (cases.airway == "mask")
    one.dips = np.where(rng.random(n) < chance, rng.integers(1, 16, n), -9)
    one.dip_marks, one.dip_depth = rng.integers(2, 6, n), rng.uniform(4, 15, n)
    one.oxygen = one.oxygen.to_numpy()
