"""The pages as people meet them: opened from disk without a network, by mouse and keyboard, light, dark, on paper."""

import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from pipeline.reporting.pdf import print_pages

pytestmark = pytest.mark.browser
PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
MM = 96 / 25.4


@pytest.fixture(scope="module")
def quality(chromium, pages):
    """The quality page, open."""
    tab = chromium.open(pages.quality)
    yield tab
    tab.close()


@pytest.mark.parametrize(
    "name, dark",
    [("index", False), ("quality", False), ("quality", True), ("cases", False), ("case", True), ("shared", False),
     ("summary", True)],
)  # fmt: skip
def test_opens_from_disk_with_the_network_off_and_draws_everything(chromium, pages, name, dark):
    tab = chromium.open(getattr(pages, name), dark=dark)
    assert tab.requests() == []
    assert tab.said() == []
    charts, drawn = tab.run(
        "[document.querySelectorAll('.chart').length, document.querySelectorAll('.chart .main-svg').length]"
    )
    assert drawn >= charts
    assert tab.run("[...document.querySelectorAll('.chart')].every(chart => chart.querySelector('path, text'))")
    tab.close()


def test_no_tool_bar_nor_anything_that_leads_off_the_page(quality):
    assert quality.run("document.querySelectorAll('.modebar, .modebar-btn, iframe, form, object, embed').length") == 0
    assert quality.run("[...document.links].filter(link => !link.href.startsWith('file:')).length") == 0
    assert quality.run("document.body.innerText.toLowerCase().includes('share chart')") is False


@pytest.mark.parametrize("name", ["quality", "cases", "case"])
def test_hostile_text_is_shown_and_does_not_run(chromium, hostile_page, name):
    tab = chromium.open(getattr(hostile_page, name))
    assert tab.run("window.hit") is None
    assert tab.said() == [] and tab.requests() == []
    assert tab.run("document.querySelectorAll('main img, main script:not([type])').length") == 0
    assert tab.run("document.body.innerText.includes('<img src=x onerror=')")
    assert tab.run("[...document.querySelectorAll('.chart a, .chart img')].length") == 0
    tab.close()


def test_a_script_that_got_in_would_still_not_run(chromium, pages, tmp_path):
    """The policy, not only the escaping: the same page with a script put into it by hand."""
    page = tmp_path / "tampered.html"
    html = pages.index.read_text(encoding="utf-8")
    page.write_text(
        html.replace("</main>", "<script>window.hit=1</script><img src=x onerror='window.hit=1'></main>"),
        encoding="utf-8",
    )
    tab = chromium.open(page)
    assert tab.run("window.hit") is None
    assert any("Content Security Policy" in said for said in tab.said())
    tab.close()


def test_a_fold_opens_by_keyboard(quality):
    quality.run("document.querySelector('#cases-by-month summary').focus()")
    quality.key("Enter", 13, "\r")
    assert quality.run("document.querySelector('#cases-by-month details').open") is True
    quality.key("Enter", 13, "\r")
    assert quality.run("document.querySelector('#cases-by-month details').open") is False


def test_a_link_to_a_definition_opens_its_fold(quality):
    quality.run("document.querySelector('#complication-by-class figcaption a').click()")
    quality.run("new Promise(done => setTimeout(done, 100))")
    assert quality.run("document.querySelector('#method-harm').open") is True


def test_the_first_tab_stop_skips_to_the_findings(chromium, pages):
    tab = chromium.open(pages.quality)
    tab.key("Tab", 9)
    assert tab.run("document.activeElement.className") == "skip"
    assert tab.run("document.activeElement.getBoundingClientRect().left") >= 0
    tab.key("Enter", 13, "\r")
    assert tab.run("location.hash") == "#main"
    tab.close()


COLUMN = "[...document.querySelectorAll('#kinds-table tbody tr')].map(row => row.cells[%d].textContent)"


def test_tables_sort_by_value_by_mouse_and_keyboard_and_say_so(quality):
    heading = "document.querySelectorAll('#kinds-table thead th')[4]"
    quality.run(f"{heading}.querySelector('button').click()")
    counts = [int(text.replace(",", "")) for text in quality.run(COLUMN % 4)]
    assert counts == sorted(counts) and len(set(counts)) > 2
    assert quality.run(f"{heading}.getAttribute('aria-sort')") == "ascending"
    quality.run(f"{heading}.closest('details').open = true; {heading}.querySelector('button').focus()")
    quality.key("Enter", 13, "\r")
    counts = [int(text.replace(",", "")) for text in quality.run(COLUMN % 4)]
    assert counts == sorted(counts, reverse=True)
    assert "descending" in quality.run("document.querySelector('#said').textContent")


def test_unknown_values_sort_last_both_ways(quality):
    for _ in range(2):
        quality.run(
            "document.querySelectorAll('#change-complication-table thead th')[3].querySelector('button').click()"
        )
        values = quality.run(
            "[...document.querySelectorAll('#change-complication-table tbody tr')].map(row => row.cells[3].textContent)"
        )
        assert "–" in values
        assert values[values.index("–") :] == ["–"] * (len(values) - values.index("–"))


def test_tables_filter_and_copy_what_is_shown_with_formulas_defused(chromium, hostile_page):
    tab = chromium.open(hostile_page.quality)
    box = "document.querySelector('#cases-by-month-table').nextElementSibling"
    shown = tab.run(f"""(() => {{ const field = {box}.querySelector('input'); field.value = '2025';
        field.dispatchEvent(new Event('input')); return [...document.querySelectorAll('#cases-by-month-table tbody tr')]
        .filter(row => !row.hidden).map(row => row.cells[0].textContent) }})()""")
    assert shown and all("2025" in month for month in shown)
    tab.run("document.execCommand = () => { window.copied = document.activeElement.value; return true }")
    tab.run("Object.defineProperty(navigator, 'clipboard', {value: undefined})")
    tab.run(f"{box}.querySelector('button').click()")
    tab.run("new Promise(done => setTimeout(done, 100))")
    lines = tab.run("window.copied").split("\n")
    assert len(lines) == len(shown) + 1
    assert lines[0].split("\t")[0].startswith("Month")
    tab.close()


@pytest.mark.parametrize("name", ["quality", "case"])
def test_a_phone_never_scrolls_sideways(chromium, pages, name):
    tab = chromium.open(getattr(pages, name), width=390, height=844)
    assert tab.run("document.documentElement.scrollWidth - innerWidth") <= 0
    tab.close()


@pytest.mark.parametrize("name, paper", [("quality", "A4"), ("quality", "Letter"), ("cases", "Letter")])
def test_on_paper_folds_are_open_and_no_chart_is_cut(chromium, pages, name, paper):
    """The page laid out at the width of the paper less its margins, as it is just before printing."""
    inside = PAPERS[paper][0] * 96 - 28 * MM
    tab = chromium.open(getattr(pages, name), width=int(inside), height=1000)
    tab.media("print")
    tab.run("dispatchEvent(new Event('beforeprint'))")
    tab.run("new Promise(done => setTimeout(done, 300))")
    assert tab.run("document.querySelectorAll('details:not([open])').length") == 0
    widths = tab.run("""[...document.querySelectorAll('.chart')].map(chart => {
        const inner = chart.querySelector('.main-svg').getBoundingClientRect();
        const own = chart.getBoundingClientRect();
        return [inner.left, inner.right, own.right, inner.height, own.height] })""")
    assert widths
    for left, right, own_right, inner_height, own_height in widths:
        assert left >= 0 and right <= inside + 1 and right <= own_right + 1
        assert inner_height <= own_height + 1 <= (PAPERS[paper][1] * 96 - 30 * MM)
    assert tab.run("document.documentElement.scrollWidth") <= inside + 1
    tab.run("dispatchEvent(new Event('afterprint'))")
    assert tab.run("document.querySelectorAll('.numbers[open]').length") == 0
    tab.close()


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext of poppler-utils reads the printed page back")
def test_the_printed_page_holds_findings_tables_and_definitions(pages, chromium, tmp_path):
    (printed,) = print_pages([pages.quality])
    shutil.move(printed, tmp_path / "page.pdf")
    subprocess.run(["pdftotext", "-layout", "page.pdf", "page.txt"], cwd=tmp_path, check=True)
    printed = (tmp_path / "page.txt").read_text(encoding="utf-8")
    for words in ("Quality rounds", "cases with a complication", "12 months", "ASA 3", "Cochran-Armitage", "Skip to"):
        assert (words in printed) is (words != "Skip to"), words
    assert printed.count("\f") < 60


@pytest.mark.parametrize(
    "id, names",
    [
        ("complication-by-class", ["last 12 months", "month"]),
        ("to-sternal-curve", ["12\u00a0months", "Oct 2026"]),
        ("agreement-figure", ["both", "detected, not charted", "charted, not seen"]),
    ],
)
def test_series_differ_in_more_than_colour(drawn, id, names):
    """Symbol, dash, hatching or being open: what is left on a black-and-white printer."""
    looks = set()
    for one in drawn[id]["data"]:
        if one.get("name") in names:
            marker = one.get("marker", {})
            open_bar = marker.get("color") == "rgba(0,0,0,0)" and "pattern" not in marker
            hatch = marker.get("pattern", {}).get("shape")
            looks.add((one["name"], marker.get("symbol"), one.get("line", {}).get("dash"), hatch, open_bar))
    assert sorted(name for name, *_ in looks) == sorted(names)
    assert len({tuple(look) for _, *look in looks}) == len(names)


@pytest.fixture(scope="session")
def axe():
    """axe-core, the checker of accessibility, from the npm registry into a temporary folder."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm, which brings axe-core, is not on this machine")
    with tempfile.TemporaryDirectory() as folder:
        made = subprocess.run(
            [npm, "pack", "axe-core@4.10", "--silent"], cwd=folder, capture_output=True, text=True, timeout=120
        )
        if made.returncode:
            pytest.skip("the npm registry did not answer, so axe-core could not be had")
        shutil.unpack_archive(Path(folder) / made.stdout.split()[-1], folder, "gztar")
        yield (Path(folder) / "package" / "axe.min.js").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "name, dark",
    [("index", False), ("quality", False), ("quality", True), ("cases", False), ("case", False), ("summary", True)],
)
def test_axe_finds_nothing_serious(chromium, pages, axe, name, dark):
    tab = chromium.open(getattr(pages, name), dark=dark)
    tab.run("for (const fold of document.querySelectorAll('details')) fold.open = true")
    tab.run(f"{axe}; undefined")
    # what a scheme changes is colour, so the second one is asked for contrast alone
    only = "runOnly: ['color-contrast']," if dark else ""
    found = tab.run(
        f"axe.run({{exclude: ['.chart svg']}}, {{{only} resultTypes: ['violations']}}).then(got => got.violations.map("
        "one => [one.impact, one.id, one.nodes.slice(0, 3).map(node => node.html.slice(0, 120))]))"
    )
    assert [one for one in found if one[0] in ("serious", "critical")] == []
    assert [one[1] for one in found] == []
    tab.close()
