"""Who dies or is put to sleep, when, and how long the others are followed.

Shares by ASA class are of the order of a referral hospital's published 48-hour deaths (Bille 2012:
0.12 % in classes 1 and 2, 2.9, 7.6 and 17.3 % in 3, 4 and 5), somewhat lower; rabbits die more often
(Brodbelt 2008), and most deaths fall after the anesthetic.
"""

import numpy as np
import pandas as pd

from pipeline.simulate.plan import DAY, Plan

DEATH_48H = (0.0006, 0.0015, 0.012, 0.05, 0.16)
DEATH_LATER = (0.0003, 0.001, 0.005, 0.015, 0.05)
ON_THE_TABLE = (0.0, 0.0004, 0.006, 0.028, 0.06)  # put to sleep under the anesthetic
LATER_SLEEP = (0.0003, 0.001, 0.008, 0.02, 0.04)
DURING = 0.27  # share of the 48-hour deaths that fall before the anesthetic ends

AFTER_EXTUBATION = ("m_sternal", "m_standing", "m_recovery_end")


def outcome(plan: Plan, cases: pd.DataFrame) -> None:
    """Adds outcome and m_outcome (minutes from induction), and takes away the stages that never came."""
    rng = plan.chance(4)
    n = len(cases)
    worse = np.where(cases.species == "rabbit", 2.2, 1.0)
    draws = rng.random((4, n))
    by_class = [np.array(share)[cases.asa_class - 1] for share in (DEATH_48H, DEATH_LATER, ON_THE_TABLE, LATER_SLEEP)]
    early, late, table, sleep = (draw < share for draw, share in zip(draws, by_class, strict=True))
    early = draws[0] < by_class[0] * worse
    table = table & ~early
    late = late & ~early & ~table
    sleep = sleep & ~early & ~late & ~table
    end = cases.m_extubation.to_numpy()
    during = early & (rng.random(n) < DURING)
    at = np.full(n, np.nan)
    at[during] = np.round(20 + rng.random(n) * np.maximum(5, cases.m_off - 25))[during]
    after = early & ~during
    at[after] = np.round(end + 4 + rng.gamma(0.9, 420, n).clip(0, 44 * 60))[after]
    at[table] = np.round(cases.m_procedure_start + rng.random(n) * (cases.m_procedure_end - cases.m_procedure_start))[
        table
    ]
    long_after = np.round(end + DAY * rng.uniform(3.2, 12, n))
    at = np.where(late | sleep, long_after, at)
    cases["outcome"] = np.where(early | late, "died", np.where(table | sleep, "euthanised", "alive"))
    cases["m_outcome"] = at
    cases["dies_during"] = during
    _take_away(cases, during | table, at)
    recovery = after & (at < end + 30 * 60)
    for stage in AFTER_EXTUBATION:
        gone = recovery & (cases[stage].to_numpy() > at)
        cases.loc[gone, stage] = np.nan
    followed = np.round(end + DAY * np.where(rng.random(n) < 0.6, rng.uniform(0.3, 4, n), rng.uniform(4, 15, n)))
    cases["m_followed"] = np.where((rng.random(n) < 0.74) & (cases.outcome == "alive"), followed, np.nan)


def _take_away(cases: pd.DataFrame, ended: np.ndarray, at: np.ndarray) -> None:
    """An anesthetic that ends in death has no later stage, and its gas goes off then."""
    for stage in ("m_extubation", "m_spontaneous_breathing", *AFTER_EXTUBATION):
        cases.loc[ended, stage] = np.nan
    for stage in ("m_procedure_start", "m_procedure_end"):
        cases.loc[ended & (cases[stage].to_numpy() > at), stage] = np.nan
    for stage in ("m_off", "m_vaporizer_off", "m_ventilator_off"):
        cases[stage] = np.where(ended & cases[stage].notna(), at, cases[stage])


def known_by(plan: Plan, cases: pd.DataFrame) -> None:
    """Later outcomes are learned in office hours; nothing is known later than the record's last day."""
    for name in ("m_followed", "m_outcome"):
        at = cases.at_induction + cases[name]
        office = (at // DAY) * DAY + 9 * 60 + at % (9 * 60)
        cases[name] = np.where(cases[name] > cases.m_off + 2.2 * DAY, office - cases.at_induction, cases[name])
    late = cases.at_induction + cases.m_outcome.fillna(0) >= plan.ends
    late &= cases.m_outcome > cases.m_off + DAY  # the last night's cases are charted to their end
    cases.loc[late, "outcome"] = "alive"
    cases.loc[late, "m_outcome"] = np.nan
    cases.loc[cases.at_induction + cases.m_followed.fillna(0) >= plan.ends, "m_followed"] = np.nan
