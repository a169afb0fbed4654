"""When each anesthetic happens and on which machine: no machine has two patients at once."""

from bisect import bisect_left

import numpy as np
import pandas as pd

from pipeline.simulate.plan import DAY, Plan

OPENS = 8 * 60
TURNOVER = 18


def schedule(plan: Plan, cases: pd.DataFrame) -> pd.DataFrame:
    """Adds at_induction (minute) and machine_id, puts the cases in order of their start and numbers
    them; planned cases fill the day from eight on, emergencies take the first gap at their hour."""
    rng = plan.chance(5)
    n = len(cases)
    before = np.where(np.isnan(cases.m_preoxygenation_start), 2, -cases.m_preoxygenation_start) + 2
    after = np.where(np.isnan(cases.m_extubation), cases.m_off, cases.m_extubation) + TURNOVER
    night = rng.uniform(20, 31.5, n)
    night = np.where(night > 24, night - 23.2, night)  # not in the hour after midnight
    hour = np.where(rng.random(n) < 0.62, rng.uniform(9, 20, n), night)
    wanted = cases.day * DAY + np.where(cases.emergency, (hour * 60).astype(int), OPENS + rng.integers(0, 25, n))
    start, machine = np.zeros(n, "int64"), np.full(n, "", object)
    order = np.lexsort([rng.random(n), cases.emergency, cases.day])
    taken: dict[str, dict[str, list[tuple[int, int]]]] = {}
    sites, days = cases.site.to_numpy(), cases.day.to_numpy()
    lengths = (before + after).astype(int)
    fleet = {}
    for number, site in enumerate(sorted(set(sites))):
        fleet[site] = fleet_of(plan, number)
        taken[site] = {name: [] for name in fleet[site]}
    turn = rng.permuted(np.tile(np.arange(plan.machines), (n, 1)), axis=1) if plan.machines < 8 else None
    for case in order:
        busy = taken[sites[case]]
        names = fleet[sites[case]]
        first = int(wanted[case] - before[case])
        tries = names if turn is None else [names[number] for number in turn[case]]
        opening, name = min(
            ((_first_gap(busy[name], first, lengths[case]), name) for name in tries), key=lambda x: x[0]
        )
        _occupy(busy[name], opening, opening + lengths[case], (days[case] - 2) * DAY)
        start[case], machine[case] = opening + before[case], name
    cases["at_induction"], cases["machine_id"] = start, machine
    cases = cases.sort_values(["at_induction", "machine_id"], ignore_index=True)
    year = cases.at_induction.to_numpy().astype("datetime64[m]").astype("datetime64[Y]").astype("int64") + 1970
    cases["case_id"] = [f"A{a_year % 100}-{number:04d}" for a_year, number in zip(year, _in_year(year), strict=True)]
    return cases


def fleet_of(plan: Plan, site_number: int) -> list[str]:
    """The machines of a site: M1, M2, M3; those of other sites carry the site's number."""
    prefix = "" if site_number == 0 else f"{site_number + 1}-"
    return [f"{prefix}M{number}" for number in range(1, plan.machines + 1)]


def _in_year(year: np.ndarray) -> np.ndarray:
    starts = np.flatnonzero(np.append(True, year[1:] != year[:-1]))
    return np.arange(len(year)) - np.repeat(starts, np.diff(np.append(starts, len(year)))) + 1


def _first_gap(busy: list[tuple[int, int]], first: int, length: int) -> int:
    """The first minute from first on at which the machine is free for length minutes."""
    here = max(0, bisect_left(busy, (first, 0)) - 1)
    for begins, ends in busy[here:]:
        if ends <= first:
            continue
        if begins >= first + length:
            break
        first = ends
    return first


def _occupy(busy: list[tuple[int, int]], begins: int, ends: int, forget: int) -> None:
    while busy and busy[0][1] < forget:
        busy.pop(0)
    busy.insert(bisect_left(busy, (begins, ends)), (begins, ends))
