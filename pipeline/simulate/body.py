"""The body under the anesthetic, mark by mark: alveolar gas follows the dial, pressure falls with it,
carbon dioxide climbs, and somebody acts on what they see."""

import numpy as np
import pandas as pd

from pipeline.simulate.absorbent import inspired_co2
from pipeline.simulate.traits import traits

EVERY = 5
KEPT = ("dial", "et", "map", "hr", "co2", "fico2", "rr", "spo2")
WOBBLES = ("map", "hr", "co2", "rr")


class Body:
    """The state of all cases at one mark; step() moves it on by five minutes and keeps what it was."""

    def __init__(self, cases: pd.DataFrame, rng: np.random.Generator, minute: np.ndarray):
        self.one, self.rng, self.minute = traits(cases, rng), rng, minute
        n = len(cases)
        self.turned, self.alveolar = np.ones(n), np.zeros(n)
        self.lift, self.lift_to, self.rate_lift = np.zeros(n), np.zeros(n), np.ones(n)
        self.low, self.high, self.slow, self.given = (np.zeros(n, int) for _ in range(4))
        self.wobble = {name: rng.standard_normal(n) for name in WOBBLES}
        self.kept = {name: np.full(minute.shape, np.nan) for name in KEPT}

    def step(self, mark: int) -> dict:
        """What was done at this mark: kind, case, minute."""
        one, t = self.one, self.minute[:, mark]
        for name in WOBBLES:
            self.wobble[name] = 0.72 * self.wobble[name] + 0.69 * self.rng.standard_normal(one.n)
        dial = np.where(t < one.on + 9, 1.45 * one.need, 1.1 * one.need * self.turned)
        turned_on = one.inhales & (t >= one.on) & (t < one.off)
        dial = np.where(turned_on, np.minimum(np.round(dial * 4) / 4, one.dial_top), 0.0)
        self.alveolar += (1 - np.exp(-EVERY / 7.5)) * (0.9 * dial - self.alveolar)
        depth = np.where(one.inhales, self.alveolar / one.mac, np.where(t < one.off, 0.95, 0.35))
        hurt = one.pain * ((t >= one.cut) & (t < one.closed))
        pressure, rate = self._circulation(t, depth, hurt)
        co2, inspired, breaths = self._breath(t, depth, hurt)
        dips = (mark >= one.dips) & (mark < one.dips + one.dip_marks)
        saturation = one.oxygen + 0.55 * self.rng.standard_normal(one.n) - dips * one.dip_depth
        values = (dial, self.alveolar, pressure, rate, co2, inspired, breaths, saturation)
        for name, value in zip(KEPT, values, strict=True):
            self.kept[name][:, mark] = value
        done = self._react(t, pressure, rate, co2)
        return {**done, "minute": t[done["case"]]}

    def _circulation(self, t, depth, hurt):
        one = self.one
        self.lift += 0.5 * (self.lift_to - self.lift)
        pressure = one.pressure - 19 * (depth - 0.35) + 3.2 * hurt - 8 * np.exp(-t / 9) + self.lift
        rate = one.rate * (1 - 0.06 * (depth - 0.9)) * (1 + 0.045 * hurt) * self.rate_lift
        rate = rate + one.rate * (0.055 * self.wobble["hr"] + 0.1 * (t > one.off))
        return pressure + 5.0 * self.wobble["map"], rate

    def _breath(self, t, depth, hurt):
        one, machine = self.one, self.one.machine
        inspired = inspired_co2(one.spent + one.spends * t / np.maximum(one.off, 1)) + 2.2 * one.leaks
        deeper = np.where(machine, 1.0, 8.5) * (np.maximum(depth, 0.55) - 0.85) - 2.0 * hurt * ~machine
        co2 = one.co2 + deeper + one.co2_climb * t + 1.9 * self.wobble["co2"]
        breaths = one.breaths * np.where(machine, 1, 1 - 0.25 * (depth - 0.9))
        breaths = breaths + np.where(machine, 0.15, 1.6) * self.wobble["rr"]
        return co2 + np.where(machine, 0.6, 0.85) * inspired, inspired, breaths

    def _react(self, t, pressure, rate, co2) -> dict:
        """First less gas and fluids, then a drug; an anticholinergic; a breath where carbon dioxide climbs."""
        one = self.one
        draw = self.rng.random((4, one.n))
        here = (t < one.off) & (t > 4)
        self.low = np.where((pressure < 60) & here & one.measured, self.low + 1, 0)
        self.high = np.where((co2 > np.where(one.machine, 45, 58)) & here, self.high + 1, 0)
        self.slow = np.where((rate < 0.88 * one.rate_low) & here, self.slow + 1, 0)
        lighten = (self.low >= 2) & (draw[0] < 0.7) & (self.turned > 0.75)
        fluids = lighten & (draw[3] < 0.5)
        press = (self.low >= 2) & ~lighten & (draw[1] < 0.6) & (self.given < 2) & (self.slow == 0)
        faster = (self.slow >= 2) & ((self.low > 0) | (self.slow > 3)) & (draw[2] < 0.5) & (self.rate_lift < 1.1)
        breathe = (self.high >= 2) & (draw[3] < 0.65)
        self.turned = np.where(lighten, self.turned * 0.82, self.turned)
        self.lift_to = self.lift_to + 12 * press + 4 * fluids + 7 * faster
        self.rate_lift = np.where(faster, 1.42, self.rate_lift)
        one.co2 = np.where(breathe, one.co2 - 4.5, one.co2)
        self.given = self.given + press
        kinds = {
            "anticholinergic": faster,
            "pressor": press & (self.given == 1),
            "pressor_infusion": press & (self.given == 2),
        }
        cases = {kind: np.flatnonzero(flag) for kind, flag in kinds.items()}
        return {
            "kind": np.repeat(list(cases), [len(case) for case in cases.values()]),
            "case": np.concatenate(list(cases.values())),
        }
