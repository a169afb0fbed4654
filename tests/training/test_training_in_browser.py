"""The pages as people meet them: in a browser without a network, on a phone, in the dark, and on paper.

The browser is driven by tests/pages/browser.py.
"""

import importlib.util
import json
import re
from pathlib import Path

import pytest

HELPER = Path(__file__).parents[1] / "pages" / "browser.py"
pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def browser():
    spec = importlib.util.spec_from_file_location("training_browser", HELPER)
    driver = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(driver)
    if driver.find() is None:
        pytest.skip("no Chromium on this machine")
    with driver.Browser() as running:
        yield running


def pages(clinic) -> dict[str, Path]:
    reports = clinic / "reports"
    (sheet,) = (reports / "training" / "sheets").glob("log_ash_2025-Q4_*.html")
    return {"programme": reports / "training.html", "trainee": reports / "training" / "log_ash.html", "sheet": sheet,
            "shared": reports / "shared" / "training" / "log_ash.html"}  # fmt: skip


@pytest.mark.parametrize("name", ["programme", "trainee", "sheet", "shared"])
@pytest.mark.parametrize("dark", [False, True])
def test_a_page_opens_without_a_network_and_without_complaint(browser, invented_clinic, name, dark):
    tab = browser.open(pages(invented_clinic)[name], dark=dark)
    assert tab.requests() == []
    assert tab.said() == []
    assert tab.run("window.hit") is None
    assert tab.run("[...document.querySelectorAll('.chart')].every(chart => chart.querySelector('svg'))")
    tab.close()


@pytest.mark.parametrize("name", ["programme", "trainee", "sheet"])
def test_nothing_wider_than_a_phone_moves_the_page(browser, invented_clinic, name):
    tab = browser.open(pages(invented_clinic)[name], width=390, height=844)
    assert tab.run("document.documentElement.scrollWidth") <= 390
    tab.close()


@pytest.mark.parametrize("name", ["programme", "trainee", "sheet"])
def test_tables_fit_the_screen_of_a_desk(browser, invented_clinic, name):
    """A column that has to be scrolled to is a column nobody reads; the log itself may."""
    tab = browser.open(pages(invented_clinic)[name], width=1440)
    wide = tab.run(
        """[...document.querySelectorAll('.table')].filter(one => one.scrollWidth > one.clientWidth + 1)
           .map(one => one.id)"""
    )
    assert set(wide) <= {"log-table"}
    tab.close()


def test_links_of_the_programme_and_of_a_trainee_lead_somewhere(browser, invented_clinic):
    for name in ("programme", "trainee"):
        path = pages(invented_clinic)[name]
        tab = browser.open(path)
        links = tab.run("[...document.querySelectorAll('a[href]')].map(a => a.getAttribute('href'))")
        inside = [link[1:] for link in links if link.startswith("#")]
        assert tab.run(f"{json.dumps(inside)}.every(id => document.getElementById(id))")
        outside = [link for link in links if not link.startswith("#")]
        assert outside and all((path.parent / link).exists() for link in outside)
        tab.close()


@pytest.mark.parametrize("width, height", [(8.27, 11.69), (8.5, 11)], ids=["A4", "Letter"])
def test_every_sheet_of_paper_carries_who_what_and_the_code(browser, invented_clinic, width, height):
    path = pages(invented_clinic)["sheet"]
    stored = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    code = "-".join(re.findall("....", stored["sha256"][:20].upper()))
    tab = browser.open(path)
    foot = tab.run(
        """[...document.styleSheets].flatMap(sheet => [...sheet.cssRules])
           .filter(rule => rule instanceof CSSPageRule).map(rule => rule.cssText).join(' ')"""
    )
    assert f"ash, 2025-Q4, code {code}" in foot
    assert "counter(pages)" in foot
    pages_printed = len(re.findall(rb"/Type\s*/Page\b", tab.pdf(width, height)))
    assert 2 <= pages_printed <= 2 + len(stored["rows"]) // 25
    tab.close()


def test_headings_can_repeat_on_every_sheet_of_paper(browser, invented_clinic):
    """Chromium repeats a table's headings on paper only where no box of a button stands in them."""
    tab = browser.open(pages(invented_clinic)["sheet"])
    tab.media("print")
    shown = tab.run("[...document.querySelectorAll('thead button')].map(one => getComputedStyle(one).display)")
    assert set(shown) <= {"contents"}
    assert tab.run("getComputedStyle(document.querySelector('thead')).display") == "table-header-group"
    tab.close()


def test_there_is_room_to_sign(browser, invented_clinic):
    tab = browser.open(pages(invented_clinic)["sheet"])
    tab.media("print")
    boxes = tab.run(
        """[...document.querySelectorAll('#signing td')].map(cell => cell.getBoundingClientRect())
           .map(box => [box.width, box.height])"""
    )
    assert boxes and all(width >= 110 and height >= 34 for width, height in boxes)  # px: 29 mm by 9 mm
    tab.close()
