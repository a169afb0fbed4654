"""Actions, summary, methods, colours, and which folder may import what."""

import re
import subprocess
import sys
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import pytest

from pipeline.errors import UserFault
from pipeline.figures import theme
from pipeline.models.graph import tables_read
from pipeline.reporting import summary, summary_text, write
from pipeline.reporting.display import Display
from pipeline.reporting.methods import method_pages
from pipeline.reporting.pdf import print_pages
from pipeline.reporting.quality import METHODS, page
from pipeline.reporting.quality.actions import listed
from pipeline.reporting.results import Results
from pipeline.reporting.review import Review
from pipeline.shipped import folder

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def review(small, tmp_path_factory):
    return Review(
        small.db, small.settings, tmp_path_factory.mktemp("empty"), Results(small.db), Display(small.settings.display)
    )


def actions(tmp_path, text, encoding="utf-8"):
    (tmp_path / "actions.csv").write_bytes(text.encode(encoding))
    return listed(
        tmp_path / "actions.csv", SimpleNamespace(results=SimpleNamespace(month="2026-10"), month="October 2026")
    )


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_actions_carry_over_open_ones_first(tmp_path, separator):
    text = "action,who,due,state\nold,A1,2026-09-01,done\nlater,B2,2026-12-01,open\nnow,C3,2026-10-31,\n"
    (table,) = actions(tmp_path, "\ufeff" + text.replace(",", separator))
    assert [row[0] for row in table.rows] == ["now", "later", "old"]
    assert table.rows[0][2] == date(2026, 10, 31)
    assert table.title == "2 of 3 actions are open, 1 of them due by the end of October 2026"


@pytest.mark.parametrize(
    "text, encoding, said",
    [
        ("what,who\nx,y\n", "utf-8", "no column called action"),
        ("action\nGerät\n", "latin-1", "not UTF-8"),
        ("", "utf-8", "no column"),
    ],
)
def test_a_sheet_of_actions_that_cannot_be_read_is_said_and_stops_nothing(tmp_path, text, encoding, said):
    (sentence,) = actions(tmp_path, text, encoding)
    assert said in sentence


def test_without_a_sheet_the_section_says_how_to_make_one(tmp_path, review):
    (sentence,) = listed(tmp_path / "actions.csv", review)
    assert "action, who, due, state" in sentence


def test_the_summary_is_small_and_carries_no_script(pages):
    html = pages.summary.read_text(encoding="utf-8")
    assert len(html.encode()) < 100_000
    assert "<script" not in html and "<svg" not in html and "<img" not in html
    assert html.count("<li ") == 5 and "ASA 3" in html


def test_the_summary_as_text_says_the_same(review):
    made = page(review)
    said = summary_text(review.db, review.settings, review.clinic)
    assert all(f"{number}. {sentence}" in said for number, sentence in enumerate(summary.sentences(made), 1))
    row = review.results.row("hypothermia")
    assert f"{row.numerator:.0f} of {row.denominator:.0f}" in said
    assert max(len(line) for line in said.splitlines() if "  " in line) < 100


def test_every_method_page_has_its_seeds_and_every_seed_row_a_source(small):
    pages_ = method_pages(METHODS, small.settings, small.db, Display(small.settings.display))
    assert [one.name for one in pages_] == METHODS
    for path in sorted((folder("reports") / "methods").glob("*.md")):
        seeds = re.findall(r"^seeds: (.+)$", path.read_text(encoding="utf-8"), re.MULTILINE)
        for seed in ", ".join(seeds).split(", ") if seeds else ():
            assert (folder("sql") / "seeds" / f"{seed.removeprefix('seed_')}.csv").exists(), f"{path.name}: {seed}"
    for seed in ("seed_published", "seed_discussion"):
        assert small.db.execute(f"SELECT count(*) FROM {seed} WHERE source IS NULL OR source = ''").fetchone() == (0,)


def test_a_setting_of_the_clinic_shows_at_the_foot():
    import small_clinic

    given = small_clinic.settings(limits={"hypotension": {"dog": {"below": 65}}})
    db = small_clinic.connection(cases=20, days=60, given=given)
    (limits,) = [
        one
        for one in method_pages(["limits"], given, db, Display(given.display))[0].tables
        if one.id == "limits-seed-limits"
    ]
    row = next(row for row in limits.rows if row[0] == "hypotension" and "dog" in row and "65" in row)
    assert row[-1] == "clinic.toml"
    db.close()


# Brodbelt et al. 2008, Vet Anaesth Analg 35:365-73, abstract: overall 0.17, 0.24 and 1.39 % for dogs, cats and rabbits;
# 0.05 and 1.33 % for dogs of ASA 1-2 and 3-5.
@pytest.mark.parametrize(
    "species, asa, percent",
    [("dog", "all", 0.17), ("cat", "all", 0.24), ("rabbit", "all", 1.39), ("dog", "1-2", 0.05), ("dog", "3-5", 1.33)],
)
def test_published_deaths_are_as_printed(small, species, asa, percent):
    (value,) = small.db.execute(
        """SELECT val FROM seed_published
        WHERE measure = 'death_48h' AND species = ? AND asa_class = ? AND source LIKE 'Brodbelt%'""",
        [species, asa],
    ).fetchone()
    assert 100 * value == pytest.approx(percent)


def schemes() -> dict[str, dict[str, str]]:
    css = (folder("reports") / "static" / "report.css").read_text(encoding="utf-8")
    blocks = re.findall(r":root \{(.*?)\}", css, re.DOTALL)
    return {
        name: dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", block))
        for name, block in zip(("light", "dark"), blocks, strict=True)
    }


def luminance(color: str) -> float:
    """Relative luminance of WCAG 2.2."""
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


# WCAG 2.2, 1.4.3 and 1.4.11: text 4.5 to 1, marks 3 to 1. Black on white is 21 by the standard's own definition.
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "wash"])
@pytest.mark.parametrize("ink", ["ink", "soft", "accent"])
def test_words_and_marks_stand_out_in_both_schemes(scheme, ground, ink):
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast(schemes()[scheme][ink], schemes()[scheme][ground]) >= 4.5


def test_figures_use_the_colours_of_the_sheet():
    """report.js swaps exactly these for the dark ones."""
    light = schemes()["light"]
    script = (folder("reports") / "static" / "report.js").read_text(encoding="utf-8")
    assert dict(re.findall(r"(\w+): \"(#[0-9a-f]{6})\"", script)) == light
    assert {name: getattr(theme, name.upper()) for name in light} == light


def test_colours_of_every_figure_are_known_to_the_swap(drawn):
    known = set(schemes()["light"].values())
    for id, figure in drawn.items():
        assert set(re.findall(r"#[0-9a-fA-F]{6}", str(figure))) <= known, id


def test_text_in_a_figure_is_literal():
    assert theme.plain("<a href='x'>%{y} $a$ & b</a>") == "&lt;a href='x'&gt;%&#123;y} &#36;a&#36; &amp; b&lt;/a&gt;"


def test_unknown_numbers_are_gaps_not_zeros():
    assert theme.tidy([1.0, float("nan"), None, float("inf")]) == [1.0, None, None, None]


@pytest.mark.parametrize(
    "library, homes", [("plotly", set()), ("jinja2", {"reporting"}), ("great_expectations", {"checks"})]
)
def test_a_library_is_imported_in_one_folder_only(library, homes):
    """plotly in none: figures are plain JSON, which the tests hold against it."""
    asks = re.compile(rf"^\s*(?:import|from) {library}\b", re.MULTILINE)
    files = (ROOT / "pipeline").rglob("*.py")
    users = {
        path.relative_to(ROOT / "pipeline").parts[0] for path in files if asks.search(path.read_text(encoding="utf-8"))
    }
    assert users == homes


def test_the_case_command_imports_nothing_heavy_to_show_its_help():
    heavy = ("pandas", "duckdb", "plotly", "jinja2")
    code = f"import pipeline.commands.case, sys; print([name for name in {heavy} if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert said.strip() == "[]"


def test_without_a_browser_pdf_says_what_to_do(monkeypatch):
    monkeypatch.setattr("pipeline.reporting.pdf.find_browser", lambda: None)
    with pytest.raises(UserFault, match="print it to PDF there"):
        print_pages([])


@pytest.mark.parametrize("cases, days", [(1, 1), (40, 70), (12, 400)])
def test_a_clinic_that_has_just_begun_gets_its_page_too(tmp_path, cases, days):
    """One case, two months, months without a case: said, not a crash; whole and for sharing."""
    import small_clinic

    db = small_clinic.connection(cases=cases, days=days)
    for share in (False, True):
        html = write(db, small_clinic.settings(), tmp_path, ["quality"], share=share)[1].read_text(encoding="utf-8")
        words = re.sub(r"<script>.*?</script>", "", html, flags=re.DOTALL).lower().split()
        assert "rounds" in words and "nan" not in words and ">None<" not in html
    db.close()


def test_without_a_case_the_report_says_what_to_load(tmp_path):
    import small_clinic

    db = small_clinic.connection(cases=0)
    with pytest.raises(UserFault, match="load the exports"):
        write(db, small_clinic.settings(), tmp_path, ["quality"])
    with pytest.raises(UserFault, match="no results for March 2020"):
        write(db, small_clinic.settings(), tmp_path, ["quality"], month="2020-03")
    with pytest.raises(UserFault, match="a page called weather"):
        write(db, small_clinic.settings(), tmp_path, ["weather"])
    db.close()


def test_an_earlier_month_leaves_nothing_behind(small, tmp_path):
    stale = tmp_path / "reports" / "tables" / "quality_discuss-L0001-table.csv"
    stale.parent.mkdir(parents=True)
    stale.write_text("left over", encoding="utf-8")
    mine = tmp_path / "reports" / "tables" / "case_L0001_readings.csv"
    mine.write_text("another page's", encoding="utf-8")
    write(small.db, small.settings, tmp_path, ["quality"])
    assert not stale.exists() and mine.exists()


@pytest.mark.parametrize("path", sorted((folder("sql") / "pages").glob("*.sql")), ids=lambda path: path.stem)
def test_a_page_query_says_truly_what_it_reads(path):
    sql = path.read_text(encoding="utf-8")
    assert sql.startswith(f"-- {path.stem}: ")
    said = dict(re.findall(r"^-- (Grain|Reads|Units|Source) +(.+)$", sql, re.MULTILINE))
    assert said.keys() == {"Grain", "Reads", "Units", "Source"}
    assert set(said["Reads"].split(", ")) == tables_read(sql)
