"""What one invented clinic is asked to be, its calendar, and where its chance comes from."""

from dataclasses import dataclass

import numpy as np

DAY = 24 * 60  # the simulator's clock is local wall time in whole minutes since 1970

# Months before the warming programme begins, and days for which one machine's absorbent is forgotten.
MONTHS_BEFORE_PROGRAMME = 13
OVERRUN_DAYS = 48

# Nights with a change of clocks have no case in them, so wall time may be added and subtracted here.
HOLIDAYS = {(1, 1), (5, 1), (10, 3), (12, 25), (12, 26)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The invented clinic to make.

    months: complete months, the last of them last_month (year, month); partial_days: days of the
    month after it. cases: anesthetics in the complete months. faults: chart as people and cables
    do; without, no record rule is broken. warming_programme and absorbent_overrun: the planted
    improvement and the planted harm. vitals: 'long', 'wide' or 'mixed' files of readings.
    """

    seed: int = 7
    months: int = 24
    cases: int = 2500
    faults: bool = True
    last_month: tuple[int, int] = (2026, 10)
    partial_days: int = 6
    sites: int = 1
    warming_programme: bool = True
    absorbent_overrun: bool = True
    vitals: str = "long"

    @property
    def first(self) -> int:
        """The first month, as year * 12 + month - 1."""
        year, month = self.last_month
        return year * 12 + month - self.months

    @property
    def machines(self) -> int:
        """Machines a site: three, and more where the caseload of a weekday needs them."""
        a_weekday = self.cases / self.sites / self.months / 20
        return max(3, int(np.ceil(a_weekday / 2.5)))

    @property
    def programme_from(self) -> int | None:
        """Minute at which the warming programme begins, or None."""
        if not self.warming_programme or self.months <= MONTHS_BEFORE_PROGRAMME:
            return None
        return month_start(self.first + MONTHS_BEFORE_PROGRAMME)

    @property
    def overrun(self) -> tuple[int, int] | None:
        """Minutes between which the second machine's absorbent is not changed, or None."""
        if not self.absorbent_overrun or self.months < 4:
            return None
        begins = month_start(self.first + self.months - 2) - 16 * DAY
        return begins, begins + OVERRUN_DAYS * DAY

    @property
    def first_minute(self) -> int:
        """The minute at which the record begins."""
        return month_start(self.first)

    @property
    def ends(self) -> int:
        """The minute after the last day of the record."""
        return month_start(self.first + self.months) + self.partial_days * DAY

    def chance(self, *stream: int) -> np.random.Generator:
        """A generator of its own for each step, so that one step's draws never move another's."""
        return np.random.default_rng([self.seed, *stream])


def month_start(month_no: int) -> int:
    """Minute at which a month begins; month_no is year * 12 + month - 1."""
    return int(np.datetime64(int(month_no) - 1970 * 12, "M").astype("datetime64[m]").astype(np.int64))


def day_of(minute: int | None) -> str | None:
    """The day of a minute, as 2025-12-01."""
    return None if minute is None else str(np.datetime64(int(minute), "m").astype("datetime64[D]"))


def month_of(minutes: np.ndarray) -> np.ndarray:
    """year * 12 + month - 1 of minutes."""
    return np.asarray(minutes, "int64").astype("datetime64[m]").astype("datetime64[M]").astype("int64") + 1970 * 12


def is_closed(day: int) -> bool:
    """Weekend or holiday; day counts from 1970."""
    date = np.datetime64(int(day), "D").astype(object)
    return date.weekday() > 4 or (date.month, date.day) in HOLIDAYS


def clock_change(day: int) -> bool:
    """Last Sunday of March or October, when Central Europe changes its clocks."""
    date = np.datetime64(int(day), "D").astype(object)
    return date.month in (3, 10) and date.weekday() == 6 and date.day > 24


def pick(rng: np.random.Generator, names, weights, n: int) -> np.ndarray:
    """n names drawn with these weights, as objects."""
    weights = np.asarray(weights, float)
    return np.asarray(names, object)[rng.choice(len(names), n, p=weights / weights.sum())]


def joined(used: dict[str, np.ndarray], n: int) -> list[str]:
    """The words whose flag is set, joined by ';', a case."""
    words = np.full(n, "", object)
    for name, flag in used.items():
        here = np.asarray(flag, bool)
        words[here] = np.where(words[here] == "", name, words[here] + ";" + name)
    return list(words)
