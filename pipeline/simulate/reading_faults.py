"""Faults of charting and of sensors, put into a month's readings: what people and cables do."""

from collections import Counter

import numpy as np
import pandas as pd

from pipeline.simulate.body import EVERY
from pipeline.simulate.readings import CODE

# Share of cases that have each fault.
GAP, COPIED, PROBE_OFF, DISCONNECTED, PROBE_LATE = 0.025, 0.015, 0.012, 0.03, 0.03
FAHRENHEIT_A_MONTH = 0.3
ROUNDS = "N04"  # this nurse rounds pressures and heart rates to fives, in the last third of the record
ROUNDED = ("heart_rate", "sap", "map", "dap")
COPIES = ("heart_rate", "respiratory_rate", "etco2", "spo2", "sap", "map", "dap")


def spoil_readings(cases: pd.DataFrame, read: pd.DataFrame, rng, rounds: bool) -> tuple[pd.DataFrame, Counter]:
    """The month's readings with faults in them, and how many readings each fault touched."""
    spoiled = _Month(cases, read)
    if rounds:
        spoiled.round_to_fives()
    n = len(cases)
    shares = {"copied": COPIED, "probe": PROBE_OFF, "zeros": DISCONNECTED, "late": PROBE_LATE, "gap": GAP}
    hurt = {name: np.flatnonzero(rng.random(n) < share) for name, share in shares.items()}
    for case in hurt["copied"]:
        spoiled.copy_forward(case, rng.random(), int(rng.integers(5, 9)))
    for case in hurt["probe"]:
        spoiled.probe_off(case, rng.random(), int(rng.integers(52, 78)))
    for case in hurt["zeros"]:
        spoiled.disconnect(case, rng.random(), int(rng.integers(1, 3)))
    for case in hurt["late"]:
        spoiled.probe_late(case, round(float(rng.uniform(20.4, 24.4)), 1), int(rng.integers(1, 3)))
    if rng.random() < FAHRENHEIT_A_MONTH:
        spoiled.fahrenheit(rng.random())
    for case in hurt["gap"]:
        spoiled.gap(case, rng.random(), int(rng.integers(3, 7)))
    return spoiled.table(), spoiled.counts


class _Month:
    def __init__(self, cases: pd.DataFrame, read: pd.DataFrame):
        self.cases, self.counts = cases, Counter()
        self.case, self.minute = read.case.to_numpy(), read.minute.to_numpy()
        self.parameter, self.value = read.parameter.to_numpy(), read.value.to_numpy(copy=True)
        self.kept = np.ones(len(read), bool)
        self.end = cases.m_extubation.fillna(cases.m_off).to_numpy()

    def table(self) -> pd.DataFrame:
        columns = {"case": self.case, "minute": self.minute, "parameter": self.parameter, "value": self.value}
        return pd.DataFrame({name: column[self.kept] for name, column in columns.items()})

    def _rows(self, case: int) -> slice:
        return slice(*np.searchsorted(self.case, [case, case + 1]))

    def _of(self, case: int, name: str) -> np.ndarray:
        """Positions of a case's readings of a parameter during the anesthetic, in time order."""
        here = self._rows(case)
        during = (self.minute[here] >= 0) & (self.minute[here] <= self.end[case])
        return here.start + np.flatnonzero((self.parameter[here] == CODE[name]) & during)

    def _set(self, fault: str, rows, values) -> None:
        self.value[rows] = values
        self.counts[fault] += len(np.atleast_1d(rows))

    def round_to_fives(self) -> None:
        nurse = (self.cases.anesthetist == ROUNDS).to_numpy()[self.case]
        rows = np.flatnonzero(nurse & np.isin(self.parameter, [CODE[name] for name in ROUNDED]))
        self._set("rounded to fives", rows, np.round(self.value[rows] / 5) * 5)

    def copy_forward(self, case: int, where: float, marks: int) -> None:
        """The same numbers again and again."""
        for name in COPIES:
            rows = self._of(case, name)
            if len(rows) > marks + 2:
                first = int(where * (len(rows) - marks))
                again = rows[first + 1 : first + marks]
                self._set("copied forward", again, self.value[rows[first]])

    def probe_off(self, case: int, where: float, shows: int) -> None:
        """The pulse oximeter slips: no pulse, and a saturation that is not one."""
        rate, saturation = self._of(case, "heart_rate"), self._of(case, "spo2")
        if len(saturation) < 4:
            return
        at = saturation[int(where * len(saturation))]
        same = rate[self.minute[rate] == self.minute[at]]
        if len(same):
            self._set("pulse oximeter off", same, 0.0)
            self._set("pulse oximeter off", [at], shows)

    def disconnect(self, case: int, where: float, marks: int) -> None:
        """The sampling line comes off for one or two marks."""
        rows = self._of(case, "etco2")
        if len(rows) >= marks + 3:
            first = 1 + int(where * (len(rows) - marks - 1))
            self._set("sampling line off", rows[first : first + marks], 0.0)

    def probe_late(self, case: int, room: float, marks: int) -> None:
        """The probe reads the room before it reads the patient."""
        rows = self._of(case, "temperature")
        if len(rows) > marks + 1:
            self._set("probe not yet placed", rows[:marks], room + 0.1 * np.arange(marks))

    def fahrenheit(self, where: float) -> None:
        rows = np.flatnonzero((self.parameter == CODE["temperature"]) & (self.value > 30))
        if len(rows):
            row = rows[int(where * len(rows))]
            self._set("Fahrenheit", [row], np.round(self.value[row] * 1.8 + 32, 1))

    def gap(self, case: int, where: float, marks: int) -> None:
        """Nobody wrote anything for a quarter of an hour or more."""
        room = self.end[case] - EVERY * (marks + 2)
        if room > 10:
            here = self._rows(case)
            begins = 8 + where * (room - 8)
            inside = (self.minute[here] > begins) & (self.minute[here] <= begins + EVERY * marks)
            self.kept[here] &= ~inside
            self.counts["not charted"] += int(inside.sum())
