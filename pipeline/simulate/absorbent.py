"""The absorbent of each machine: when it is changed, how far it is spent in each case, and the five
weeks in which one machine's was forgotten.

Carbon dioxide made: 8 x kg^0.75 mL/min (80 % of Brody and Kleiber's oxygen use); a charge binds about
12 L a 100 g (Jorgensen 1977), and breakthrough is let begin at about half of that.
"""

import numpy as np
import pandas as pd

from pipeline.simulate import clinic
from pipeline.simulate.plan import DAY, Plan

CAPACITY_L = clinic.ABSORBENT_GRAMS / 100 * 12
BREAKTHROUGH = 0.54
CHANGE_AFTER_MIN, CHANGE_AFTER_DAYS = 7.4 * 60, 13


def absorbent(plan: Plan, cases: pd.DataFrame) -> pd.DataFrame:
    """Adds spent_from, spent_to (share of capacity used before and after each case) and cycle_min
    (minutes used before it); returns the changes: site, machine_id, at, minutes used till then."""
    rng = plan.chance(7)
    minutes = cases.m_extubation.fillna(cases.m_off).to_numpy()
    uses = (cases.breathing_system == "rebreathing").to_numpy()
    liters = np.where(uses, 8 * cases.weight_kg.to_numpy() ** 0.75 * minutes / 1000, 0.0)
    late = rng.random(len(cases)) < 0.1  # somebody was in a hurry
    starts = cases.at_induction.to_numpy()
    spent_from, used_before = np.full(len(cases), np.nan), np.full(len(cases), np.nan)
    changes = []
    for (site, machine), rows in cases.groupby(["site", "machine_id"], sort=True).indices.items():
        forgotten = plan.overrun if machine == "M2" and plan.overrun else (0, 0)
        changed, used, load = plan.first_minute - DAY // 2, 0.0, 0.0
        changes.append((site, machine, changed, 0.0))
        for case in rows:
            if not uses[case]:
                continue
            due = used >= CHANGE_AFTER_MIN or starts[case] - changed > CHANGE_AFTER_DAYS * DAY
            if due and not (late[case] and used < 1.5 * CHANGE_AFTER_MIN):
                at = int(starts[case] - 12)
                if not forgotten[0] <= at < forgotten[1]:
                    changes.append((site, machine, at, used))
                    changed, used, load = at, 0.0, 0.0
            spent_from[case], used_before[case] = load / CAPACITY_L, used
            used, load = used + minutes[case], load + liters[case]
    cases["spent_from"], cases["spent_to"] = spent_from, spent_from + liters / CAPACITY_L
    cases["cycle_min"] = used_before
    return pd.DataFrame(changes, columns=["site", "machine_id", "at", "used_min"])


def inspired_co2(spent: np.ndarray) -> np.ndarray:
    """Inspired carbon dioxide [mmHg] that a charge lets through when this share of it is spent."""
    over = np.nan_to_num(spent) - BREAKTHROUGH
    return np.where(over > 0, 13 * (1 - np.exp(-np.maximum(over, 0) / 0.25)), 0.0)
