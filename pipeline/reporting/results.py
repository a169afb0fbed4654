"""The numbers a page may print: rows of the results table, small counts withheld where the page is for sharing."""

from itertools import starmap
from typing import NamedTuple

from pipeline.errors import UserFault
from pipeline.reporting.display import month_name, month_number, month_text

FEWEST_SHOWN = 5
"""Counts below this stay out of a page made for sharing."""


class Row(NamedTuple):
    """One row of results; withheld: its counts are too small for a shared page."""

    measure: str
    unit: str
    period: str
    by: str
    level: str
    n: int | None
    numerator: float | None
    denominator: float | None
    value: float | None
    low: float | None
    high: float | None
    not_assessable: int | None
    method: str
    withheld: bool = False

    @property
    def partial(self) -> bool:
        return self.method.endswith("; partial")


BY_MACHINE = ("absorbent_overdue", "rebreathing")
"""Measures that are followed by month for each machine too."""

COLUMNS = Row._fields[:-1]


def no_results(of: str = "any month") -> UserFault:
    """The fault of a report that has nothing to report on."""
    return UserFault(
        where="quality report",
        found=f"no results for {of}",
        wanted="a month with loaded cases, such as 2026-10",
        fix="load the exports of that month, then run the command again",
    )


class Results:
    """The rows of one report: its month, the 12 months ending with it, and every month for by = all.

    month: 'YYYY-MM', or None for the month the results were last computed for; '' where no case is loaded.
    Raises UserFault for a month that has no results.
    """

    def __init__(self, db, month: str | None = None, share: bool = False):
        periods = [row[0] for row in db.execute("SELECT DISTINCT period FROM results ORDER BY 1").fetchall()]
        years = sorted(period for period in periods if ".." in period)
        found = [year for year in years if not month or year.endswith(month)]
        if month and not found:
            raise no_results(month_name(month))
        self.year = found[-1] if found else ""
        self.month = self.year[-7:]
        self.months = [period for period in periods if len(period) == 7]
        self.share = share
        rows = db.execute(
            f"""SELECT {", ".join(f'"{name}"' for name in COLUMNS)} FROM results
            WHERE period IN (?, ?) OR "by" = 'all'
                OR ("by" = 'machine_id' AND measure IN (SELECT unnest(?)))
            ORDER BY measure, period, "by", level""",
            [self.month, self.year, list(BY_MACHINE)],
        ).fetchall()
        found = starmap(Row, rows)
        self.rows = {(row.measure, row.period, row.by, row.level): row for row in found}
        if share:
            self._withhold()
        self.levels_of: dict = {}
        for measure, period, by, level in self.rows:
            self.levels_of.setdefault((measure, period, by), []).append(level)

    def row(self, measure: str, period: str | None = None, by: str = "all", level: str = "all") -> Row | None:
        """One row, None where the table has none; period: the month judged unless given."""
        return self.rows.get((measure, period or self.month, by, level))

    def levels(self, measure: str, period: str, by: str) -> list[Row]:
        """The rows of a measure by one column, levels in order, 'not recorded' last."""
        levels = sorted(
            self.levels_of.get((measure, period, by), ()), key=lambda level: (level == "not recorded", level)
        )
        return [self.rows[measure, period, by, level] for level in levels]

    def series(self, measure: str, by: str = "all", level: str = "all") -> list[Row]:
        """The measure in every month, in order; by machine only for BY_MACHINE."""
        return [self.rows[key] for month in self.months if (key := (measure, month, by, level)) in self.rows]

    def before(self, month: str | None = None) -> str:
        """The month before."""
        return month_text(month_number(month or self.month) - 1)

    def _withhold(self) -> None:
        """Withholds counts below FEWEST_SHOWN and, where that leaves one hole in a group, the next smallest too."""
        groups: dict = {}
        for key, row in self.rows.items():
            if row.denominator is None and row.unit != "cases":
                continue
            counts = [row.numerator, row.denominator, (row.denominator or 0) - (row.numerator or 0)]
            small = any(count is not None and count < FEWEST_SHOWN for count in counts)
            groups.setdefault(key[:3], []).append((small, row.numerator or 0, key))
        for members in groups.values():
            small = [key for is_small, _, key in members if is_small]
            others = sorted((count, key) for is_small, count, key in members if not is_small)
            if len(small) == 1 and others and members[0][2][2] != "all":
                small.append(others[0][1])
            for key in small:
                self.rows[key] = hidden(self.rows[key])


def hidden(row: Row) -> Row:
    """The row without any number a count could be worked out from."""
    return row._replace(
        n=row.n if row.n >= FEWEST_SHOWN else None,
        numerator=None,
        denominator=None,
        value=None,
        low=None,
        high=None,
        not_assessable=None,
        withheld=True,
    )
