"""The chart library that the pages carry: what it is, and that it can draw whatever they hold."""

import hashlib
import re

import plotly
import pytest
from page_figures import figures_of
from plotly.offline import get_plotlyjs_version

from pipeline.figures.theme import library
from pipeline.shipped import folder

NOTE = (folder("reports") / "static" / "plotly-basic.txt").read_text(encoding="utf-8")


def noted(word: str) -> str:
    return re.search(rf"^{word} +([\w.]+)", NOTE, re.MULTILINE)[1].rstrip(".")


def types(bundle: str) -> set[str]:
    """The trace types a plotly.js can draw: each registers itself by name."""
    return set(re.findall(r'moduleType:"trace",name:"(\w+)"', bundle))


def test_the_library_is_the_file_its_note_names():
    assert hashlib.sha256(library().encode("utf-8")).hexdigest() == noted("sha256")
    assert f"plotly.js (basic - minified) v{noted('version')}\n" in library()[:100]
    assert "Licensed under the MIT license" in library()[:200]
    assert "Permission is hereby granted, free of charge" in NOTE


def test_the_library_is_the_one_whose_words_the_installed_plotly_checks():
    """test_plotted_numbers holds every figure against the installed plotly's schema, which is that of the plotly.js
    it carries. Within one major version plotly.js only adds words, and ours are old ones, so another minor draws
    them too; what is checked is then not quite what is shipped, which this says."""
    shipped, checked = noted("version"), get_plotlyjs_version()
    renew = "reports/static/plotly-basic.txt says how to renew the bundle"
    assert shipped.split(".")[0] == checked.split(".")[0], renew
    if shipped != checked:
        pytest.skip(f"plotly {plotly.__version__} carries plotly.js {checked}, the pages {shipped}; {renew}")


@pytest.mark.parametrize("name", ["quality", "cases", "case", "shared"])
def test_every_trace_is_of_a_type_the_library_holds(pages, name):
    drawn = {trace["type"] for figure in figures_of(getattr(pages, name)).values() for trace in figure["data"]}
    assert drawn and drawn <= types(library())
    assert "heatmap" not in types(library())


@pytest.mark.browser
def test_the_browser_finds_the_same_types_in_it(chromium, pages):
    tab = chromium.open(pages.case)
    assert set(tab.run("Object.keys(Plotly.PlotSchema.get().traces)")) == types(library())
    tab.close()
