"""The body under the anesthetic, step by step of the chart: gas, pressure, heart, breath, oxygen, heat.

A grid of five-minute marks by case. Alveolar concentration follows the dial; pressure falls with it and
with age of induction, and somebody acts on what they see: turns down the gas, gives a drug, squeezes
the bag. MAC: isoflurane 1.28 dog, 1.6 cat, 2.1 rabbit; sevoflurane 2.36, 2.6, 3.7 (vol %).
"""

from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.simulate.absorbent import inspired_co2
from pipeline.simulate.monitors import charted, oxygen_flow

EVERY = 5
MAC = {
    ("isoflurane", "dog"): 1.28, ("isoflurane", "cat"): 1.60, ("isoflurane", "rabbit"): 2.10,
    ("sevoflurane", "dog"): 2.36, ("sevoflurane", "cat"): 2.60, ("sevoflurane", "rabbit"): 3.70,
}  # fmt: skip
AWAKE_MAP = {"dog": 86.0, "cat": 84.5, "rabbit": 72.0}
LIQUID_ML = {"isoflurane": 195.0, "sevoflurane": 184.0}  # vapor mL a liquid mL, Biro 2014


class Steps(NamedTuple):
    """minute: minutes from induction, cases by marks; there: mark within the anesthetic; values: one
    grid a parameter, NaN where it was not read; acts: (kind, case, minute) of what somebody did."""

    minute: np.ndarray
    there: np.ndarray
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
    body = _Body(cases, rng, minute)
    acts = [body.step(mark) for mark in range(marks)]
    values = body.readings(there)
    known = [pd.DataFrame(act) for act in acts if len(act["case"])]
    acts = pd.concat(known, ignore_index=True) if known else pd.DataFrame({"kind": [], "case": [], "minute": []})
    flow = oxygen_flow(cases, minute) * there
    before = cases.m_preoxygenation_start.fillna(0).to_numpy()
    oxygen = EVERY * flow.sum(axis=1) - before * flow[:, 0]
    return Steps(minute, there, values, acts, body.liquid_ml(flow), oxygen)


class _Body:
    """The state of all cases at one mark; step() moves it on by five minutes."""

    def __init__(self, cases: pd.DataFrame, rng: np.random.Generator, minute: np.ndarray):
        self.cases, self.rng, self.minute = cases, rng, minute
        n = len(cases)
        self.n = n
        dog, cat = (cases.species == "dog").to_numpy(), (cases.species == "cat").to_numpy()
        kg, asa = cases.weight_kg.to_numpy(), cases.asa_class.to_numpy()
        self.gas = (cases.agent != "none").to_numpy()
        keys = zip(cases.agent, cases.species, strict=True)
        self.mac = np.array([MAC.get(key, 1.0) for key in keys])
        self.off = cases.m_off.to_numpy()
        self.on = cases.m_vaporizer_on.fillna(0).to_numpy()
        spare = 0.10 * cases.does_nerve_block + 0.16 * cases.does_epidural + 0.2 * cases.does_analgesic_infusion
        spare = (spare + 0.18 * cases.gets_alpha2 + 0.03 * asa).to_numpy()
        self.need = np.clip(rng.normal(1.24, 0.13, n) - spare, 0.7, 1.7) * self.mac
        self.turned = np.ones(n)
        self.top = np.where(cases.agent == "isoflurane", 4.5, 7.5)
        self.alveolar = np.zeros(n)
        self.pain = (cases.pain * (1 - 0.6 * (cases.does_nerve_block | cases.does_epidural))).to_numpy()
        self.from_, self.to = (
            cases.m_procedure_start.fillna(999).to_numpy(),
            cases.m_procedure_end.fillna(999).to_numpy(),
        )
        base = cases.species.map(AWAKE_MAP).to_numpy() + rng.normal(0, 9, n) - 2.9 * (asa - 1)
        self.map0 = (
            base
            - 3 * (cases.ventilation == "mechanical")
            + 7 * cases.gets_alpha2
            - 4 * cases.gets_acepromazine
            - 4 * cases.does_epidural
        )
        rate = np.where(dog, 97 * (kg / 10) ** -0.17, np.where(cat, 141, 225))
        opioid = np.where(cat, 0.96, 0.92)
        self.hr0 = (
            rate
            * opioid
            * np.where(cases.gets_alpha2, np.where(cat, 0.84, 0.72), 1)
            * np.exp(rng.normal(0, 0.13, n) + 0.42 * (rng.random(n) < 0.025))
        )
        self.low_rate = np.where(dog, np.select([kg <= 10, kg <= 25], [70, 60], 50), np.where(cat, 100, 140))
        machine, hand = (cases.ventilation == "mechanical").to_numpy(), (cases.ventilation == "assisted").to_numpy()
        self.machine = machine
        set_high = rng.random(n) < 0.17
        self.co2 = np.where(machine, np.where(set_high, rng.normal(32.3, 1.5, n), rng.normal(38.6, 2.6, n)),
                            np.where(hand, rng.normal(42.6, 3.0, n), rng.normal(42.0, 5.0, n)))  # fmt: skip
        self.co2_slope = np.where(machine | hand, 0.0, rng.normal(2.0, 1.2, n)) / 60
        self.rr0 = np.where(machine, rng.normal(12, 1.6, n), rng.normal(13, 3, n)) * np.where(
            dog, 1, np.where(cat, 1.4, 2.6)
        )
        self.looks = (cases.pressure != "none").to_numpy()
        self.lift, self.lift_to, self.rate_lift = np.zeros(n), np.zeros(n), np.ones(n)
        self.wobble = {
            name: rng.normal(0, 1, n) for name in ("map", "heart_rate", "etco2", "respiratory_rate", "temperature")
        }
        self.low, self.high, self.slow = np.zeros(n, int), np.zeros(n, int), np.zeros(n, int)
        self.given = np.zeros(n, int)
        self.spent = cases.spent_from.to_numpy()
        self.spends = (cases.spent_to - cases.spent_from).to_numpy()
        self.leaks = np.where(cases.breathing_system == "non_rebreathing", rng.random(n) < 0.12, rng.random(n) < 0.02)
        self.oxygen = rng.choice([99.0, 98.6, 98.0, 97.4], n, p=[0.4, 0.35, 0.18, 0.07]) - 0.35 * (asa > 3)
        self.dips = np.where(
            rng.random(n) < 0.02 + 0.03 * (asa > 2) + 0.05 * (cases.airway == "mask"), rng.integers(1, 16, n), -9
        )
        self.dip_long, self.dip_deep = rng.integers(2, 6, n), rng.uniform(4, 15, n)
        shape = minute.shape
        self.kept = {name: np.full(shape, np.nan) for name in ("dial", "et", "map", "hr", "co2", "fico2", "rr", "spo2")}

    def step(self, mark: int) -> dict:
        """Moves every case on by one mark; returns what was done at it."""
        rng, t = self.rng, self.minute[:, mark]
        noise = rng.standard_normal((5, self.n))
        for row, name in enumerate(self.wobble):
            self.wobble[name] = 0.72 * self.wobble[name] + 0.69 * noise[row]
        gas_on = self.gas & (t >= self.on) & (t < self.off)
        dial = np.where(t < self.on + 9, 1.45 * self.need, 1.1 * self.need * self.turned)
        dial = np.where(gas_on, np.minimum(np.round(dial * 4) / 4, self.top), 0.0)
        self.alveolar += (1 - np.exp(-EVERY / 7.5)) * (0.9 * dial - self.alveolar)
        depth = np.where(self.gas, self.alveolar / self.mac, np.where(t < self.off, 0.95, 0.35))
        stim = self.pain * ((t >= self.from_) & (t < self.to))
        self.lift += 0.5 * (self.lift_to - self.lift)
        pressure = (
            self.map0 - 19 * (depth - 0.35) + 3.2 * stim - 8 * np.exp(-t / 9) + self.lift + 5.0 * self.wobble["map"]
        )
        rate = self.hr0 * (1 - 0.06 * (depth - 0.9)) * (1 + 0.045 * stim) * self.rate_lift
        rate = rate + 0.055 * self.hr0 * self.wobble["heart_rate"] + np.where(t > self.off, 0.1 * self.hr0, 0)
        fico2 = inspired_co2(self.spent + self.spends * t / np.maximum(self.off, 1)) + 2.2 * self.leaks
        co2 = (
            self.co2
            + np.where(self.machine, 1.0, 8.5) * (np.maximum(depth, 0.55) - 0.85)
            + self.co2_slope * t
            + 1.9 * self.wobble["etco2"]
        )
        co2 = co2 + np.where(self.machine, 0.6, 0.85) * fico2 - 2.0 * stim * ~self.machine
        breath = (
            self.rr0 * np.where(self.machine, 1, 1 - 0.25 * (depth - 0.9))
            + np.where(self.machine, 0.15, 1.6) * self.wobble["respiratory_rate"]
        )
        in_dip = (mark >= self.dips) & (mark < self.dips + self.dip_long)
        spo2 = self.oxygen + 0.55 * rng.standard_normal(self.n) - in_dip * self.dip_deep
        done = self._react(t, pressure, rate, co2, depth)
        kept = {
            "dial": dial,
            "et": self.alveolar,
            "map": pressure,
            "hr": rate,
            "co2": co2,
            "fico2": fico2,
            "rr": breath,
            "spo2": spo2,
        }
        for name, value in kept.items():
            self.kept[name][:, mark] = value
        return {**done, "minute": t[done["case"]]} if len(done["case"]) else done

    def _react(self, t, pressure, rate, co2, depth) -> dict:
        """What the person at the table does: first less gas, then a drug; a breath where CO2 climbs."""
        draw = self.rng.random((4, self.n))
        here = (t < self.off) & (t > 4)
        self.low = np.where((pressure < 60) & here & self.looks, self.low + 1, 0)
        self.high = np.where((co2 > np.where(self.machine, 45, 58)) & here, self.high + 1, 0)
        self.slow = np.where((rate < 0.88 * self.low_rate) & here, self.slow + 1, 0)
        lighten = (self.low >= 2) & (draw[0] < 0.7) & (self.turned > 0.75)
        self.turned = np.where(lighten, self.turned * 0.82, self.turned)
        press = (self.low >= 2) & ~lighten & (draw[1] < 0.6) & (self.given < 2) & (self.slow == 0)
        self.lift_to = np.where(press, self.lift_to + 12, self.lift_to)
        fluids = lighten & (draw[3] < 0.5)
        self.lift_to = np.where(fluids, self.lift_to + 4, self.lift_to)
        vagal = (self.slow >= 2) & ((self.low > 0) | (self.slow > 3)) & (draw[2] < 0.5) & (self.rate_lift < 1.1)
        self.rate_lift = np.where(vagal, 1.42, self.rate_lift)
        self.lift_to = np.where(vagal, self.lift_to + 7, self.lift_to)
        self.given = self.given + press
        breathe = (self.high >= 2) & (draw[3] < 0.65)
        self.co2 = np.where(breathe, self.co2 - 4.5, self.co2)
        kinds = {"lightened": lighten, "fluid_bolus": fluids, "anticholinergic": vagal, "ventilated": breathe}
        kinds |= {"pressor": press & (self.given == 1), "pressor_infusion": press & (self.given == 2)}
        rows = [(kind, np.flatnonzero(flag)) for kind, flag in kinds.items() if flag.any()]
        return {
            "kind": np.repeat([kind for kind, _ in rows], [len(case) for _, case in rows]) if rows else [],
            "case": np.concatenate([case for _, case in rows]) if rows else np.empty(0, int),
        }

    def readings(self, there: np.ndarray) -> dict[str, np.ndarray]:
        """The grids as charted; a patient that dies fades over the last two marks."""
        dies = self.cases.dies_during.to_numpy()[:, None]
        left = (self.off[:, None] - self.minute) // EVERY
        fading = dies & (left < 2)
        for name, share in (("hr", 0.4), ("map", 0.42), ("co2", 0.45), ("rr", 0.5), ("spo2", 0.86)):
            self.kept[name] = np.where(fading, self.kept[name] * share * (0.8 + 0.2 * left), self.kept[name])
        return charted(self.cases, self.rng, self.minute, there, self.kept)

    def liquid_ml(self, flow: np.ndarray) -> np.ndarray:
        """Liquid agent used [mL]: flow x 1000 x dial / 100 x minutes / vapor mL a liquid mL."""
        k = np.array([LIQUID_ML.get(agent, np.inf) for agent in self.cases.agent])
        return (flow * 1000 * np.nan_to_num(self.kept["dial"]) / 100 * EVERY).sum(axis=1) / k
