"""How long the animals take to wake: by heat lost, time under and what calmed them before.

Extubation follows the slopes of a 900-dog recovery study (7.9 min for acepromazine, 5.9 min a °C lost,
5.8 min an hour); the mean of 5 to 15 min is common practice.
"""

import numpy as np
import pandas as pd

from pipeline.simulate.heat import temperature_at


def waking(cases: pd.DataFrame, rng: np.random.Generator) -> None:
    """Adds extubation, sternal, standing and handover, in minutes from induction, and what calms or slows."""
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
    breathes = np.minimum(cases.m_spontaneous_breathing, cases.m_extubation)
    cases["m_spontaneous_breathing"] = np.maximum(breathes, cases.m_ventilator_off)
    cold = np.maximum(0, 36.5 - temperature_at(cases, off))
    ill = np.array([1.0, 1.0, 1.25, 1.6, 2.0])[cases.asa_class - 1]
    cases["m_sternal"] = cases.m_extubation + np.round(rng.gamma(1.6, (3.6 + 2.2 * cold) * ill))
    cases["m_standing"] = cases.m_sternal + np.round(1 + rng.gamma(1.8, (6 + 3 * cold) * ill))
    handed = np.maximum(cases.m_standing + rng.integers(5, 25, n), cases.m_extubation + 30)
    cases["m_recovery_end"] = handed + np.round(18 * cold + rng.gamma(2, 9 * ill))
