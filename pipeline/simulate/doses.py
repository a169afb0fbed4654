"""Rows of the drug chart: a dose in mg/kg becomes a volume, the unit somebody wrote it in, what was
drawn up and what went into the waste."""

import numpy as np
import pandas as pd

from pipeline.simulate.formulary import CONTROLLED, DRUGS, RATE_UNITS
from pipeline.simulate.plan import pick

TO_MG_KG_H = {"mg/kg/h": 1.0, "mcg/kg/h": 1e-3, "mcg/kg/min": 0.06}


class Chart:
    """Collects drug rows of many cases at once."""

    def __init__(self, cases: pd.DataFrame, rng: np.random.Generator):
        self.cases, self.rng, self.rows = cases, rng, []
        self.kg = cases.weight_kg.to_numpy()

    def bolus(self, here, drug: str, phase: str, route: str, minute, low, high) -> None:
        """A dose between low and high mg/kg to the cases marked here, at minutes from induction.
        low and high may be arrays, one value a case."""
        case = np.flatnonzero(here)
        if not len(case):
            return
        rng, kg, of = self.rng, self.kg[case], DRUGS[drug]
        dose = _of(low, case) + rng.beta(2.0, 2.6, len(case)) * (_of(high, case) - _of(low, case))
        volume = dose * kg / of.mg_ml
        volume = np.maximum(np.where(volume < 0.2, np.round(volume, 3), np.round(volume, 2)), 0.002)
        unit = pick(rng, list(of.units), list(of.units.values()), len(case))
        mg = volume * of.mg_ml
        written = np.select(
            [unit == "mg/kg", unit == "mg", unit == "mcg/kg", unit == "mcg"],
            [np.round(mg / kg, 3), np.round(mg, 2), np.round(1000 * mg / kg, 2), np.round(1000 * mg, 1)],
            np.round(volume, 3),
        )
        given = _volume(written, unit, kg, of.mg_ml)
        drawn = np.where(volume < 0.3, np.ceil(np.round(volume * 20, 6)) / 20, np.ceil(np.round(volume * 10, 6)) / 10)
        self._rows(case, drug, "bolus", phase, route, _of(minute, case), np.nan, written, unit, drawn, drawn - given)

    def infusion(self, here, drug: str, phase: str, start, stop, low, high) -> None:
        """A rate between low and high mg/kg/h from start to stop, minutes from induction."""
        case = np.flatnonzero(np.asarray(here) & (_full(stop, self.kg) - _full(start, self.kg) >= 5))
        if not len(case):
            return
        rng, kg, of = self.rng, self.kg[case], DRUGS[drug]
        rate = _of(low, case) + rng.beta(2.0, 2.4, len(case)) * (_of(high, case) - _of(low, case))
        units = RATE_UNITS[drug]
        unit = pick(rng, list(units), list(units.values()), len(case))
        written = np.select(
            [unit == "mg/kg/h", unit == "mcg/kg/h", unit == "mcg/kg/min", unit == "mg/h"],
            [np.round(rate, 2), np.round(1000 * rate, 1), np.round(rate / 0.06, 2), np.round(rate * kg, 1)],
            np.round(rate * kg / of.mg_ml, 2),
        )
        hours = (_of(stop, case) - _of(start, case)) / 60
        an_hour = np.select([unit == "mL/h", unit == "mg/h"], [written, written / of.mg_ml], np.nan)
        per_kg = pd.Series(unit).map(TO_MG_KG_H).to_numpy(float) * written * kg / of.mg_ml
        used = np.where(np.isnan(per_kg), an_hour, per_kg) * hours
        syringes = np.select(
            [used <= 1, used <= 2.5, used <= 5, used <= 10, used <= 20], [1, 2.5, 5, 10, 20], np.ceil(used / 10) * 10
        )
        self._rows(
            case,
            drug,
            "infusion",
            phase,
            "iv",
            _of(start, case),
            _of(stop, case),
            written,
            unit,
            syringes,
            syringes - used,
        )

    def _rows(self, case, drug, kind, phase, route, minute, stop, amount, unit, drawn, wasted) -> None:
        kept = drug in CONTROLLED
        self.rows.append(
            pd.DataFrame({
                "case": case, "drug": drug, "kind": kind, "phase": phase, "route": route,
                "minute": np.round(minute), "stop": np.round(stop), "amount": amount, "amount_unit": unit,
                "concentration_mg_ml": DRUGS[drug].mg_ml,
                "drawn_ml": np.round(drawn, 2) if kept else np.nan,
                "wasted_ml": np.maximum(np.round(wasted, 2), 0.0) if kept else np.nan,
                "drawn": drawn,
            })
        )  # fmt: skip

    def table(self) -> pd.DataFrame:
        """All rows in order of case and time; 'drawn' is the volume taken from a pack, whether charted or not."""
        rows = pd.concat(self.rows, ignore_index=True)
        return rows.sort_values(["case", "minute", "drug"], kind="stable", ignore_index=True)


def _of(value, case: np.ndarray) -> np.ndarray:
    value = np.asarray(value, float)
    return np.full(len(case), float(value)) if value.ndim == 0 else value[case]


def _full(value, like: np.ndarray) -> np.ndarray:
    return np.nan_to_num(np.broadcast_to(np.asarray(value, float), like.shape), nan=-1e9)


def _volume(written, unit, kg, mg_ml) -> np.ndarray:
    """Volume [mL] that the amount as written stands for."""
    return np.select(
        [unit == "mg/kg", unit == "mg", unit == "mcg/kg", unit == "mcg"],
        [written * kg / mg_ml, written / mg_ml, written * kg / mg_ml / 1000, written / mg_ml / 1000],
        written,
    )
