"""How the animals are warmed and how far they cool.

Cooling follows two published pictures: the last temperature of the anesthetic in Redondo 2012 (dogs
83.6 % below 38.5 and 32.1 % below 36.5 °C; cats 97.4 % and 70.9 %), which the months before the
warming programme imitate, and its shape over time: fast in the first hour, slow after.
"""

import numpy as np
import pandas as pd

from pipeline.simulate.plan import DAY, Plan, joined

COOLING_MIN = 45.0  # time constant of the first fall
AWAKE = {"dog": 38.45, "cat": 38.25, "rabbit": 38.6}
FALL = {"dog": 1.38, "cat": 2.85, "rabbit": 2.6}
USUAL_KG = {"dog": 14.0, "cat": 4.3, "rabbit": 2.2}


def heat(plan: Plan, cases: pd.DataFrame, rng: np.random.Generator) -> None:
    """Adds warming, and t_start and t_drop [°C], from which temperature_at() follows. Needs m_off."""
    _warming(plan, cases, rng)
    _temperature(cases, rng)


def _warming(plan: Plan, cases: pd.DataFrame, rng) -> None:
    n, kg = len(cases), cases.weight_kg.to_numpy()
    started = plan.programme_from is not None and (cases.day * DAY >= plan.programme_from).to_numpy()
    air = np.where(started, np.where(kg < 10, 0.95, 0.7), np.where(kg < 10, 0.2, 0.14))
    used = {
        "blanket": rng.random(n) < 0.9,
        "circulating_water": rng.random(n) < 0.34,
        "forced_air": rng.random(n) < air,
    }
    used["warmed_fluids"] = rng.random(n) < np.where(cases.asa_class > 2, 0.4, 0.1)
    used["prewarming"] = rng.random(n) < np.where(started, np.where(kg < 10, 0.78, 0.3), 0.02)
    used["blanket"] |= ~(used["circulating_water"] | used["forced_air"])
    factor = np.where(used["forced_air"], 0.6, np.where(used["circulating_water"], 0.93, 1.08))
    factor = factor * np.where(used["prewarming"], 0.82, 1) * np.where(used["warmed_fluids"], 0.97, 1)
    cases["warmth"] = factor
    cases["warming"] = joined(used, n)
    cases["does_forced_air"] = used["forced_air"]


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
    """Core temperature [°C] at minutes from induction, one a case or a grid of cases by marks, up to the
    end of the anesthetic."""
    start, drop = cases.t_start.to_numpy(), cases.t_drop.to_numpy()
    if minutes.ndim == 2:
        start, drop = start[:, None], drop[:, None]
    fall = 1 - np.exp(-np.maximum(minutes, 0) / COOLING_MIN)
    slow = 0.10 * np.clip(drop, -1, 1) * np.maximum(minutes - 60, 0) / 60
    return start - (drop * fall + slow)
