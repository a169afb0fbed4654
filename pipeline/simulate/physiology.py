"""A month's anesthetics on a grid of five-minute marks, and what the gas came to."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.simulate.body import EVERY, Body
from pipeline.simulate.monitors import charted, oxygen_flow

LIQUID_ML = {"isoflurane": 195.0, "sevoflurane": 184.0}  # vapor mL a liquid mL, Biro 2014
FADES = {"hr": 0.4, "map": 0.42, "co2": 0.45, "rr": 0.5, "spo2": 0.86}  # share left in the minutes of a death


class Steps(NamedTuple):
    """minute: minutes from induction, cases by marks; values: one grid a parameter as charted, NaN
    where it was not read; acts: kind, case, minute of drugs that somebody gave; liquid_ml, oxygen_l: a case."""

    minute: np.ndarray
    values: dict[str, np.ndarray]
    acts: pd.DataFrame
    liquid_ml: np.ndarray
    oxygen_l: np.ndarray


def steps(cases: pd.DataFrame, rng: np.random.Generator) -> Steps:
    """Everything read from induction to the end of the anesthetic, rounded as a monitor shows it."""
    end = cases.m_extubation.fillna(cases.m_off).to_numpy()
    first = (-cases.at_induction.to_numpy()) % EVERY
    marks = int(np.ceil((end.max() + 1) / EVERY)) + 1
    minute = first[:, None] + EVERY * np.arange(marks)[None, :].astype(float)
    there = minute <= end[:, None]
    body = Body(cases, rng, minute)
    acts = pd.concat([pd.DataFrame(body.step(mark)) for mark in range(marks)], ignore_index=True)
    _fade(cases, minute, body.kept)
    values = charted(cases, rng, minute, there, body.kept)
    flow = oxygen_flow(cases, minute) * there
    before = cases.m_preoxygenation_start.fillna(0).to_numpy()
    oxygen = EVERY * flow.sum(axis=1) - before * flow[:, 0]
    return Steps(minute, values, acts, _liquid(cases, flow, body.kept["dial"]), oxygen)


def _fade(cases: pd.DataFrame, minute: np.ndarray, kept: dict[str, np.ndarray]) -> None:
    """A patient that dies fades over the last two marks."""
    left = (cases.m_off.to_numpy()[:, None] - minute) // EVERY
    fading = cases.dies_during.to_numpy()[:, None] & (left < 2)
    for name, share in FADES.items():
        kept[name] = np.where(fading, kept[name] * share * (0.8 + 0.2 * left), kept[name])


def _liquid(cases: pd.DataFrame, flow: np.ndarray, dial: np.ndarray) -> np.ndarray:
    """Liquid agent used [mL]: flow x 1000 x dial / 100 x minutes / vapor mL a liquid mL."""
    k = np.array([LIQUID_ML.get(agent, np.inf) for agent in cases.agent])
    return (flow * 1000 * np.nan_to_num(dial) / 100 * EVERY).sum(axis=1) / k
