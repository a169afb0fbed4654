"""What every page promises: one file, nothing from outside, nothing that runs but our own two scripts."""

import csv
import gzip
import hashlib
import io
import math
import os
import random
import re
from base64 import b64encode
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

import openpyxl
import pytest
import small_clinic

from pipeline.figures.rates import rates
from pipeline.figures.theme import CONFIG, library
from pipeline.reporting import sheets, write
from pipeline.reporting.cells import body, shown
from pipeline.reporting.display import Display
from pipeline.reporting.frame import Cell, Column, Figure, Page, Section, Table, js_json, render_page
from pipeline.settings import from_dict

MB = 1_000_000


def text(path) -> str:
    return path.read_text(encoding="utf-8")


def without_library(path) -> str:
    """The page less plotly.js, which carries addresses of its own that it never asks for here."""
    html = text(path)
    assert html.count(library()) == 1
    return html.replace(library(), "")


@pytest.mark.parametrize("name", ["quality", "cases", "case", "shared"])
def test_a_page_holds_one_copy_of_the_chart_library_and_no_outside_address(pages, name):
    ours = without_library(getattr(pages, name))
    assert "plotly.js v" not in ours
    assert re.findall(r"https?:|//[a-z0-9-]+\.", ours) == []
    assert re.findall(r"(?:src|srcset|action|formaction|ping)\s*=", ours) == []
    assert {href for href in re.findall(r'href="([^"#]*)', ours) if href} <= {"data:,"} | {
        path.name for path in pages.folder.iterdir()
    }


@pytest.mark.parametrize("name", ["index", "summary"])
def test_pages_without_figures_carry_no_library(pages, name):
    assert "plotly.js v" not in text(getattr(pages, name))
    assert len(text(getattr(pages, name))) < 100_000
    assert re.findall(r"https?:", text(getattr(pages, name))) == []


@pytest.mark.parametrize("name", ["quality", "cases", "case"])
def test_size_stays_under_what_mail_and_phones_take(pages, name):
    whole = getattr(pages, name).read_bytes()
    assert len(whole) < 6 * MB
    assert len(gzip.compress(whole, 9)) < 1.5 * MB


def test_the_policy_lets_exactly_the_scripts_of_the_page_run(pages):
    html = text(pages.quality)
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', html)[1].replace("&#39;", "'")
    scripts = re.findall(r"<script>(.*?)</script>", html, re.DOTALL)
    hashes = {f"'sha256-{b64encode(hashlib.sha256(script.encode()).digest()).decode()}'" for script in scripts}
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert set(rules["script-src"].split()) == hashes
    assert rules["img-src"] == "data:" and rules["base-uri"] == "'none'" and rules["form-action"] == "'none'"
    assert "unsafe-eval" not in policy and "unsafe-inline" not in rules["script-src"]


def test_no_tool_bar_and_no_upload_entry():
    assert CONFIG["displayModeBar"] is False
    assert CONFIG["showSendToCloud"] is False


def test_the_same_records_give_the_same_bytes(small, pages, tmp_path):
    (tmp_path / "actions.csv").write_bytes((pages.folder.parent / "actions.csv").read_bytes())
    for path in write(small.db, small.settings, tmp_path, ["quality"]):
        first = pages.folder / path.relative_to(tmp_path / "reports")
        if path.name == "index.html":  # it lists what stands beside it
            continue
        assert path.read_bytes() == first.read_bytes(), path.name


def test_every_figure_has_a_finding_a_label_a_table_and_a_caption(pages):
    html = without_library(pages.quality)
    figures = re.findall(r"<figure id=.*?</figure>", html, re.DOTALL)
    assert len(figures) > 25
    for figure in figures:
        finding = re.search(r"<h3[^>]*>(.*?)</h3>", figure, re.DOTALL)[1]
        assert len(finding) > 10
        assert f'role="img" aria-label="{finding}"' in figure
        assert "<details" in figure and "<table>" in figure and "<figcaption>" in figure
        link = re.search(r'<a href="#(method-[a-z]+)">', figure)
        assert f'id="{link[1]}"' in html


def test_ids_are_unique_and_links_on_the_page_lead_somewhere(pages):
    for path in (pages.quality, pages.cases, pages.case, pages.shared):
        html = without_library(path)
        ids = re.findall(r'\sid="([^"]+)"', html)
        assert len(ids) == len(set(ids)), path.name
        assert set(re.findall(r'href="#([^"]+)"', html)) <= set(ids), path.name


def test_the_caution_and_the_sources_stand_at_the_foot(pages):
    html = text(pages.quality)
    assert "replaces no clinical judgment" in html
    for source in ("Brodbelt et al. 2008", "Redondo et al. 2012", "Newcombe 1998", "Cochran-Armitage"):
        assert source in html
    assert "common practice" in html


def frame(**more) -> Page:
    table = Table(
        "t", "A table", [Column("Name"), Column("Cases", "count")], [["<b>Rex</b>", 3], [small_clinic.HOSTILE, None]]
    )
    drawing = rates([{"label": "<b>Rex</b>", "value": 0.5, "said": "1 of 2"}], "share")
    items = [
        "A <i>paragraph</i>.",
        ["one <u>line</u>"],
        table,
        Figure("f", "<b>Rex</b>", drawing, Table("t2", "x", [Column("x")], [])),
    ]
    return Page("p", "A & B", '"Clinic"', "October 2026", [Section("s", "Title", "Why?", items)], ["harm"], **more)


def test_text_is_escaped_wherever_it_stands():
    html = render_page(frame(lead=["<script>1</script>"]), from_dict({"zone": "UTC"})).replace(library(), "")
    for raw in ("<b>Rex", "<i>paragraph", "<u>line", "<img", "<script>1", '"Clinic"<'):
        assert raw not in html
    assert "&lt;b&gt;Rex&lt;/b&gt;" in html
    assert "A &amp; B" in html


def test_json_cannot_end_its_script_element():
    assert js_json('"</script><!--&\u2028"') == '"\\u003c/script\\u003e\\u003c!--\\u0026\\u2028"'


# OWASP, CSV injection: cells that begin with = + - @ tab or carriage return may run in a spreadsheet.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_formula_like_text_is_defused_and_numbers_stay_numbers(start, tmp_path):
    table = Table("t", "x", [Column("text"), Column("n", "number")], [[f"{start}cmd|' /C calc'!A0", -3.5]])
    row = next(
        csv.reader(io.StringIO(sheets.csv_text(*sheets.flat(table, display())).partition("\r\n")[2], newline=""))
    )
    assert row == [f"'{start}cmd|' /C calc'!A0", "-3.5"]
    (tmp_path / "x.xlsx").write_bytes(sheets.xlsx_bytes([(table.id, *sheets.flat(table, display()))]))
    cell = openpyxl.load_workbook(tmp_path / "x.xlsx").active
    assert cell["A2"].data_type == "s" and cell["B2"].value == -3.5


def display(**given) -> Display:
    return Display(from_dict({"zone": "UTC", "display": given}).display)


def test_sheets_hold_the_values_in_the_units_of_the_page(tmp_path):
    columns = [
        Column("Day", "day"),
        Column("Lowest", "temperature"),
        Column("Body", "weight"),
        Column("Share", "interval"),
    ]
    table = Table(
        "t", "x", columns, [[date(2026, 10, 3), 35.0, 10.0, (0.1, 0.2)], [datetime(2026, 1, 2, 3, 4), None, None, None]]
    )
    lines = sheets.csv_text(*sheets.flat(table, display(temperature="F", weight="lb"))).split("\r\n")
    assert lines[0] == 'Day,"Lowest, °F","Body, lb",Share: low,Share: high'
    assert lines[1].startswith("2026-10-03,95.0,22.046226218") and lines[1].endswith(",0.1,0.2")
    assert lines[2] == "2026-01-02 03:04,,,,"


@pytest.mark.parametrize(
    "value, column, said",
    [
        (0.07692, Column("x", "share"), "7.7%"),
        (0.0005, Column("x", "share"), "0.1%"),  # half up, as the measures page says
        ((0.0255, 0.1), Column("x", "interval"), "2.6 to 10.0%"),
        (1234.56, Column("x", "count"), "1,235"),
        (None, Column("x", "number"), "–"),
        (0.00004, Column("x", "p"), "< 0.001"),
        (-1.25, Column("x", "number"), "−1.3"),
        ("2026-10", Column("x", "month"), "Oct 2026"),
        ("non_rebreathing", Column("x", "code"), "non rebreathing"),
        (Cell(3, "three"), Column("x", "count"), "three"),
        ((None, None), Column("x", "range"), "–"),
    ],
)
def test_how_values_read(value, column, said):
    assert shown(value, column, display()) == said


def test_decimal_comma_and_day_first():
    mine = display(decimal=",", dates="dmy")
    assert mine.number(1234.5) == "1\u202f234,5"
    assert mine.day(date(2026, 3, 4)) == "4 Mar 2026"
    assert display(dates="mdy").day(date(2026, 3, 4)) == "Mar 4, 2026"
    assert mine.share(0.125) == "12,5%"


# A number is rounded half up as it reads in decimals, whatever its binary form; the oracle is exact decimal arithmetic.
@pytest.mark.parametrize("digits", [0, 1, 2, 3, 4])
def test_numbers_are_rounded_half_up_as_they_read(digits):
    draw = random.Random(digits)
    values = [round(draw.uniform(-1000, 1000), digits + 1) for _ in range(2000)]
    values += [draw.randrange(-(10**6), 10**6) / 8 for _ in range(500)] + [draw.uniform(-2e9, 2e9) for _ in range(500)]
    values += [math.nextafter(value, 0.0) for value in values]
    values += [5 * 10.0**-digit for digit in range(9)] + [-0.0, 1e-300]
    for value in values:
        exact = Decimal(repr(value)).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
        assert display().number(value, digits) == f"{exact:,.{digits}f}".replace("-", "−"), value


def test_a_file_that_holds_the_same_is_left_alone(tmp_path):
    path = tmp_path / "page.html"
    sheets.replace(path, b"one")
    os.utime(path, (1, 1))
    sheets.replace(path, b"one")
    assert path.stat().st_mtime == 1
    sheets.replace(path, b"two")
    assert path.read_bytes() == b"two" and path.stat().st_mtime > 1


def test_equal_values_that_read_differently_are_not_taken_for_one_another():
    table = Table("t", "x", [Column("first"), Column("x", "number")], [["a", -0.0], ["b", 0.0], ["c", 0], ["d", False]])
    cell = re.compile(r"<td[^>]*>(.*?)</td>")
    assert cell.findall(body(table, display())) == ["−0.0", "0.0", "0.0", "0.0"]
    assert re.findall(r'data-key="([^"]*)"', body(table, display())) == ["-0", "0", "0"]
