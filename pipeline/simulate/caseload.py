"""Who comes, on which day, for what: one row a case, before anything is timed to the minute."""

import numpy as np
import pandas as pd

from pipeline.simulate import clinic
from pipeline.simulate.plan import DAY, Plan, clock_change, is_closed, month_start, pick


def caseload(plan: Plan) -> pd.DataFrame:
    """Cases in the order of their days: month, day, site, species, breed, sex, age_years, weight_kg,
    asa_class, emergency, procedure (its number in clinic.PROCEDURES), patient_id."""
    rng = plan.chance(1)
    cases = pd.DataFrame({"month": _months(plan, rng)})
    n = len(cases)
    cases["site"] = pick(rng, clinic.site_names(plan.sites), np.ones(plan.sites), n)
    cases["species"] = pick(rng, list(clinic.SPECIES_SHARES), list(clinic.SPECIES_SHARES.values()), n)
    _animals(cases, rng)
    cases["procedure"] = _procedures(cases, rng)
    drawn = rng.random(n)
    shares = np.array([clinic.ASA_SHARES[step.illness] for step in clinic.PROCEDURES]).cumsum(axis=1)
    cases["asa_class"] = 1 + (drawn[:, None] > shares[cases.procedure.to_numpy()]).sum(axis=1).clip(0, 4)
    _ages(cases, rng)
    urgent = np.array([step.emergency for step in clinic.PROCEDURES])[cases.procedure.to_numpy()]
    by_class = np.array([0.3, 0.55, 1.1, 1.9, 2.6])[cases.asa_class - 1]
    cases["emergency"] = rng.random(n) < np.minimum(urgent * by_class + 0.02 * (cases.asa_class > 3), 0.97)
    cases["day"] = _days(plan, cases, rng)
    cases = cases.sort_values(["day", "emergency"], kind="stable", ignore_index=True)
    _patients(cases, plan.chance(2))
    return cases


def _months(plan: Plan, rng) -> np.ndarray:
    months = plan.first + np.arange(plan.months)
    weights = np.array([clinic.SEASON[month % 12] for month in months]) * (1 + 0.002 * np.arange(plan.months))
    counts = rng.multinomial(plan.cases, weights / weights.sum())
    per_day = plan.cases / plan.months / 30.4
    return np.repeat(np.append(months, months[-1] + 1), np.append(counts, round(per_day * plan.partial_days)))


def _animals(cases: pd.DataFrame, rng) -> None:
    breed = np.zeros(len(cases), int)
    for species in clinic.SPECIES_SHARES:
        known = [number for number, kind in enumerate(clinic.BREEDS) if kind.species == species]
        here = (cases.species == species).to_numpy()
        shares = np.array([clinic.BREEDS[number].share for number in known])
        breed[here] = rng.choice(known, here.sum(), p=shares / shares.sum())
    middle = np.array([kind.kg for kind in clinic.BREEDS])[breed]
    spread = np.array([kind.spread for kind in clinic.BREEDS])[breed]
    floor, top = np.array([1.4, 0.8])[(middle < 2).astype(int)], np.where(cases.species == "rabbit", 8.5, 75.0)
    kg = middle * np.exp(spread * rng.standard_normal(len(cases)))
    cases["breed"] = np.array([kind.name for kind in clinic.BREEDS], object)[breed]
    cases["weight_kg"] = np.round(np.clip(kg, floor, top), 1)


def _procedures(cases: pd.DataFrame, rng) -> np.ndarray:
    chosen = np.zeros(len(cases), int)
    dental = np.array([step.group == "dental" for step in clinic.PROCEDURES])
    dental_month = (cases.month % 12 + 1 == clinic.DENTAL_MONTH).to_numpy()
    for column, species in enumerate(clinic.SPECIES_SHARES):
        weights = np.array([step.weights[column] for step in clinic.PROCEDURES])
        for more in (False, True):
            here = (cases.species == species).to_numpy() & (dental_month == more)
            now = np.where(dental & more, weights * clinic.DENTAL_MORE, weights)
            chosen[here] = rng.choice(len(weights), here.sum(), p=now / now.sum())
    return chosen


def _ages(cases: pd.DataFrame, rng) -> None:
    n = len(cases)
    middle = np.array([step.age for step in clinic.PROCEDURES])[cases.procedure.to_numpy()]
    top = np.where(cases.species == "dog", 16.0, np.where(cases.species == "cat", 19.0, 10.0))
    middle = np.where(cases.species == "rabbit", middle * 0.6, middle)
    cases["age_years"] = np.round(np.clip(middle * np.exp(0.4 * rng.standard_normal(n)), 0.5, top), 1)
    wanted = np.array([step.sex for step in clinic.PROCEDURES], object)[cases.procedure.to_numpy()]
    sex = np.where(wanted == "", np.where(rng.random(n) < 0.5, "male", "female"), wanted).astype(object)
    neutered = (wanted == "") & (rng.random(n) < np.minimum(cases.age_years * 0.2, 0.75))
    cases["sex"] = np.where(neutered, sex + "_neutered", sex)


def _days(plan: Plan, cases: pd.DataFrame, rng) -> np.ndarray:
    """A day of its month for each case; planned ones on working days, none on a night the clocks change."""
    days = np.zeros(len(cases), int)
    for month in cases.month.unique():
        first, after = month_start(month) // DAY, min(month_start(month + 1), plan.ends) // DAY
        here = (cases.month == month).to_numpy()
        span = np.arange(first, after)
        free = np.array([not clock_change(day) and not clock_change(day + 1) for day in span], float)
        working = free * np.array([0.0 if is_closed(day) else 1.0 for day in span])
        weights = np.where(cases.emergency[here], 1, 0)[:, None] * free + np.where(cases.emergency[here], 0, 1)[
            :, None
        ] * (working if working.any() else free)
        edges = weights.cumsum(axis=1)
        drawn = rng.random(here.sum()) * edges[:, -1]
        days[here] = first + (drawn[:, None] >= edges).sum(axis=1)
    return days


def _patients(cases: pd.DataFrame, rng) -> None:
    """Some animals come again: the same body, a little older, never to be neutered twice."""
    n = len(cases)
    again = rng.random(n) < 0.24
    look_back, drift = rng.random(n), rng.normal(0, 0.02, n)
    barred = np.array([step.sex != "" for step in clinic.PROCEDURES])[cases.procedure.to_numpy()]
    rows = {name: cases[name].to_numpy(copy=True) for name in cases}
    patient = np.arange(n)
    seen: dict[tuple, list[int]] = {}
    for case in range(n):
        known = seen.setdefault((rows["site"][case], rows["species"][case]), [])
        if again[case] and not barred[case] and known:
            before = known[int(look_back[case] * len(known))]
            days = rows["day"][case] - rows["day"][before]
            if days > 6:
                neutered = clinic.PROCEDURES[rows["procedure"][before]].name in ("castration", "ovariohysterectomy")
                sex = rows["sex"][before]
                rows["sex"][case] = sex + "_neutered" if neutered and "_" not in sex else sex
                rows["breed"][case] = rows["breed"][before]
                rows["age_years"][case] = round(rows["age_years"][before] + days / 365.25, 1)
                rows["weight_kg"][case] = round(rows["weight_kg"][before] * (1 + drift[case]), 1)
                patient[case] = patient[before]
                known.remove(before)
        if rows["age_years"][case] >= 1:
            known.append(case)
    for name in ("sex", "breed", "age_years", "weight_kg"):
        cases[name] = rows[name]
    cases["patient_id"] = [f"P{10000 + number}" for number in patient]
