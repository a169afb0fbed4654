"""From facts of cases to rows of `results` with pandas: every grouping and period, counted once by month.

A cube is an array [period, level, measure]: the months, then the 12 that end with the last complete one, then all.
"""

from itertools import pairwise

import numpy as np
import pandas as pd
import rival_definitions as told


class Periods:
    """Months by number from the first case's, and which of them make the year."""

    def __init__(self, cases: pd.DataFrame):
        started = cases[cases.start.notna()]
        self.first, last = int(started.month.min()), int(started.month.max())
        self.months = last - self.first + 1
        ends = started.groupby(started.site.fillna("")).month.max()
        open_ = started.month >= started.site.fillna("").map(ends)
        complete = sorted(set(range(self.first, last + 1)) - set(started.month[open_]))
        report = int(complete[-1] if complete else last)
        self.year = slice(max(report - 11 - self.first, 0), report - self.first + 1)
        self.names = [told.month_text(self.first + place) for place in range(self.months)]
        self.names += [f"{told.month_text(report - 11)}..{told.month_text(report)}", "all"]

    def cube(self, by_month: np.ndarray) -> np.ndarray:
        """Sums of months with the sums of the year and of all behind them."""
        return np.concatenate([by_month, by_month[self.year].sum(0)[None], by_month.sum(0)[None]])

    def spread(self, month: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(rows, period): each row once in its month, once in the year if it is in it, once in all."""
        inside = (month >= 0) & (month < self.months)
        in_year = np.flatnonzero((month >= self.year.start) & (month < self.year.stop))
        rows = [np.flatnonzero(inside), in_year, np.arange(len(month))]
        period = [month[inside].astype(int), np.full(len(in_year), self.months), np.full(len(month), self.months + 1)]
        return np.concatenate(rows), np.concatenate(period)


def groups_of(cases: pd.DataFrame) -> dict[str, pd.Series]:
    """{grouping: level of each case, by position}; a case stands once in each of its techniques."""
    groups = {"all": pd.Series("all", cases.index)}
    groups |= {name: cases[name].fillna(told.NO) for name in told.CASE_COLUMNS}
    edges = [told.WEIGHT_BANDS[0]["over_kg"], *(row["upto_kg"] for row in told.WEIGHT_BANDS)]
    assert all(a["upto_kg"] == b["over_kg"] for a, b in pairwise(told.WEIGHT_BANDS))
    bands = pd.cut(cases.weight, edges, labels=[row["band"] for row in told.WEIGHT_BANDS])
    groups["weight_band"] = bands.astype("str").where(bands.notna(), told.NO)
    groups["asa_class x species"] = groups["asa_class"] + " x " + groups["species"]
    groups["technique"] = cases.techniques.str.split(";").explode().str.strip().fillna(told.NO)
    return {by: level[cases.start.notna().to_numpy()[level.index]].astype("category") for by, level in groups.items()}


def case_rows(cases, shares, amounts, ratios, stages, oxygen) -> list[pd.DataFrame]:
    """Every measure of a case, by every grouping."""
    periods, found = Periods(cases), []
    pairs = pd.DataFrame({(name, place): pair[place] for name, pair in ratios.items() for place in (0, 1)})
    hours = (cases.window / 3600).rename("anesthesia_hours")
    sums = pd.concat([shares, pairs, hours, oxygen.rename("oxygen_l")], axis=1)
    month = (cases.month - periods.first).to_numpy()
    asa = cases.asa_class.map({str(number): number - 1 for number in range(1, 6)}).to_numpy()
    for by, level in groups_of(cases).items():
        member, width, code = level.index.to_numpy(), len(level.cat.categories), level.cat.codes.to_numpy().astype(int)
        shape = periods.months, width
        key = month[member].astype(int) * width + code
        n = periods.cube(np.bincount(key, minlength=shape[0] * shape[1]).reshape(shape))
        of = sums.iloc[member].groupby(key)
        known, total = (
            periods.cube(some.reindex(range(shape[0] * shape[1]), fill_value=0).to_numpy(float).reshape(*shape, -1))
            for some in (of.count(), of.sum())
        )
        place = Place(by, level.cat.categories, periods, n)
        found += additive_rows(place, shares, ratios, known, total)
        rows, period = periods.spread(month[member])
        key, chosen = period * width + code[rows], member[rows]
        found += quantile_rows(place, amounts.iloc[chosen], key)
        found += curve_rows(place, stages, chosen, key)
        if by not in told.BY_ASA:
            found += trend_rows(place, shares, periods, member, month[member].astype(int) * width + code, asa[member])
    return found


class Place:
    """A grouping: which of its periods and levels have rows, and rows from cubes or from values by key."""

    def __init__(self, by: str, levels, periods: Periods, n: np.ndarray):
        self.by, self.levels, self.n = by, levels, n
        self.names = np.array(periods.names, object)
        stands = (n > 0) | (by == "all")
        self.period, self.level = np.nonzero(stands)

    def rows(self, measures: list[str], **cubes: np.ndarray) -> pd.DataFrame:
        """Cubes [period, level, measure] as rows; n of the group."""
        wide = {name: cube[self.period, self.level] for name, cube in cubes.items()}
        count = len(measures)
        frame = {"measure": np.tile(np.array(measures, object), len(self.period))}
        frame["period"] = np.repeat(self.names[self.period], count)
        frame["by"] = self.by
        frame["level"] = np.repeat(np.array(self.levels, object)[self.level], count)
        frame["n"] = np.repeat(self.n[self.period, self.level], count)
        return pd.DataFrame(frame | {name: cells.reshape(-1) for name, cells in wide.items()})

    def cube(self, values: pd.DataFrame, empty: float = np.nan) -> np.ndarray:
        """Values by key = period x levels + level as a cube."""
        return values.reindex(range(self.n.size), fill_value=empty).to_numpy(float).reshape(*self.n.shape, -1)


def additive_rows(place: Place, shares, ratios, known, total) -> list[pd.DataFrame]:
    k, r = shares.shape[1], len(ratios)
    low, high = told.wilson(total[..., :k], known[..., :k])
    with np.errstate(invalid="ignore", divide="ignore"):
        share = total[..., :k] / known[..., :k]
        top, bottom = total[..., k : k + 2 * r : 2], total[..., k + 1 : k + 2 * r : 2]
        ratio = top / np.where(bottom > 0, bottom, np.nan)
    found = [
        place.rows(list(shares), numerator=total[..., :k], denominator=known[..., :k], value=share, low=low, high=high),
        place.rows(list(ratios), numerator=top, denominator=bottom, value=ratio),
    ]
    n = place.n[..., None].astype(float)
    of_groups = {"cases": (n, n), "anesthesia_hours": (total[..., -2:-1], known[..., -2:-1])}
    if place.by in told.OXYGEN_BY:
        of_groups["oxygen_l"] = total[..., -1:], known[..., -1:]
    for measure, (amount, counted) in of_groups.items():
        amount = np.where((counted > 0) | (n == 0), amount, np.nan)
        found.append(place.rows([measure], numerator=amount, value=amount))
    return found


def quantile_rows(place: Place, amounts: pd.DataFrame, key: np.ndarray) -> list[pd.DataFrame]:
    of, found = amounts.groupby(key), []
    known = place.cube(of.count(), 0)
    quantiles = of.quantile(list(told.QUANTILES.values()))
    for tail, share in told.QUANTILES.items():
        some = [i for i, name in enumerate(amounts) if tail == "" or name.endswith("_minutes")]
        value = place.cube(quantiles.xs(share, level=-1))
        names = [amounts.columns[i] + tail for i in some]
        found.append(place.rows(names, denominator=known[..., some], value=value[..., some]))
    return found


def curve_rows(place: Place, stages: dict, chosen: np.ndarray, key: np.ndarray) -> list[pd.DataFrame]:
    """Kaplan-Meier quantiles of every group and stage at once; events before censorings at a tie."""
    parts = []
    for number, (minutes, seen) in enumerate(stages.values()):
        parts.append({"key": key * len(stages) + number, "minutes": minutes.to_numpy()[chosen],
                      "seen": seen.to_numpy()[chosen]})  # fmt: skip
    frame = pd.concat([pd.DataFrame(part).dropna() for part in parts])
    at = frame.groupby(["key", "minutes"]).seen.agg(["size", "sum"]).reset_index()
    of = at.groupby("key")
    at["risk"] = of["size"].transform("sum") - of["size"].cumsum() + at["size"]
    entered = of[["size", "sum"]].sum()
    steps = at[at["sum"] > 0]
    more = steps.risk > steps["sum"]
    gains = (steps["sum"] / (steps.risk * (steps.risk - steps["sum"]).where(more))).fillna(0)
    survival = (1 - steps["sum"] / steps.risk).groupby(steps.key).cumprod().where(more, 0.0)
    greenwood = gains.groupby(steps.key).cumsum()
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.exp(told.Z * np.sqrt(greenwood) / np.log(survival).abs())
    lower, upper = ((survival**power).where(survival > 0, 0.0) for power in (spread, 1 / spread))
    drawn = ((survival > 0) & (survival < 1)).groupby(steps.key).transform("any")

    def cube(values: pd.DataFrame, empty: float = np.nan) -> np.ndarray:
        flat = values.reindex(range(place.n.size * len(stages)), fill_value=empty).to_numpy(float)
        return flat.reshape(*place.n.shape, len(stages))

    def first(holds: pd.Series) -> np.ndarray:
        return cube(steps[holds].groupby("key").minutes.first())

    counts = {"numerator": cube(entered["sum"], 0), "denominator": cube(entered["size"], 0)}
    found = []
    for tail, share in told.QUANTILES.items():
        band = {"low": first(drawn & (lower <= 0.5)), "high": first(drawn & (upper <= 0.5))} if tail == "" else {}
        value = first(survival <= 1 - share + 1e-9)
        found.append(place.rows([name + tail for name in stages], **counts, value=value, **band))
    return found


def trend_rows(place: Place, shares, periods, member, key, asa) -> list[pd.DataFrame]:
    width, known_asa = place.n.shape[1], ~np.isnan(asa)
    of = shares[list(told.TRENDS)].iloc[member[known_asa]].groupby(key[known_asa] * 5 + asa[known_asa].astype(int))
    cubes = []
    for some in (of.count(), of.sum()):
        dense = some.reindex(range(periods.months * width * 5), fill_value=0).to_numpy(float)
        cubes.append(periods.cube(dense.reshape(periods.months, width, 5, -1)))
    tested = [told.trend(*(cube[..., i].reshape(-1, 5) for cube in cubes)) for i in range(len(told.TRENDS))]
    z, p = (np.stack([pair[side].reshape(place.n.shape) for pair in tested], axis=-1) for side in (0, 1))
    return [place.rows([f"{name}_asa_trend" for name in told.TRENDS], numerator=z, value=p)]


def own_month_rows(cases, liquid, doses, equipment) -> list[pd.DataFrame]:
    """Totals by drug and by agent, and leak tests: rows of their own months."""
    periods, found = Periods(cases), []

    def placed(by, level, month, values):
        level = level.astype("category")
        rows, period = periods.spread((month - periods.first).to_numpy())
        key = period * len(level.cat.categories) + level.cat.codes.to_numpy()[rows]
        n = np.bincount(key, minlength=len(periods.names) * len(level.cat.categories)).reshape(len(periods.names), -1)
        place, of = Place(by, level.cat.categories, periods, n), values.iloc[rows].groupby(key)
        return place, place.cube(of.count(), 0), place.cube(of.sum(), 0)

    for by, rows in (("drug", doses), ("agent", liquid)):
        values = rows.drop(columns=["level", "month"])
        place, known, total = placed(by, rows.level, rows.month, values)
        total = np.where(known > 0, total, np.nan)
        found.append(place.rows(list(values), numerator=total, value=total))

    tests = equipment[equipment.action == "leak_tested"]
    flow = tests.value.where(tests.unit.str.lower() == "ml/min")
    failed = (flow > told.LEAK_MAX).astype(float).where(flow.notna()).to_frame("leak_test_failed")
    month = tests["at"].dt.year * 12 + tests["at"].dt.month - 1
    for by, level in (("all", pd.Series("all", tests.index)), ("machine_id", tests.machine_id)):
        place, known, total = placed(by, level, month, failed)
        low, high = told.wilson(total, known)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = total / known
        found.append(place.rows(list(failed), numerator=total, denominator=known, value=share, low=low, high=high))
    return found
