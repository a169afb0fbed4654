"""One look for every figure: ink on paper, one accent, shapes and dashes before colours.

The colours below are the light ones; report.js swaps each for its dark twin, so a figure must use
no colour but these. Meaning is carried by shape: filled dot = the last 12 months, hollow diamond =
the month judged, hollow dot = a month that is not complete, large filled diamond = a named signal.
"""

import gzip
import json
import math
from dataclasses import dataclass
from functools import cache
from typing import Any

from pipeline.shipped import folder

INK = "#1d1a16"
SOFT = "#5d564a"
RULE = "#d2cabb"
WASH = "#e8e2d4"
PAPER = "#fbf9f4"
ACCENT = "#8c3518"
CLEAR = "rgba(0,0,0,0)"

FONT = "Seravek, 'Gill Sans Nova', Ubuntu, Calibri, 'DejaVu Sans', sans-serif"
SIZE = 15
DASHES = ("solid", "dash", "dot", "dashdot", "longdash")
SHAPES = ("circle", "diamond", "square", "triangle-up", "cross")

# Only these plotly options reach the page: no tool bar, hence no upload entry, and no wheel or drag traps.
CONFIG = {
    "displayModeBar": False,
    "showSendToCloud": False,
    "displaylogo": False,
    "scrollZoom": False,
    "doubleClick": False,
    "showAxisDragHandles": False,
    "responsive": True,
}


@dataclass(frozen=True, slots=True)
class Drawing:
    """A figure ready for a page: plotly traces, layout, height [px]."""

    data: list
    layout: dict
    height: int

    def json(self) -> str:
        """The figure as JSON, the same text for the same numbers."""
        return json.dumps(
            {"data": self.data, "layout": self.layout}, sort_keys=True, separators=(",", ":"), allow_nan=False
        )


@cache
def library() -> str:
    """The text of plotly.js, its basic bundle; reports/static/plotly-basic.txt says which, and how to renew it."""
    packed = folder("reports") / "static" / "plotly-basic.min.js.gz"
    return gzip.decompress(packed.read_bytes()).decode("utf-8")


def plain(text: Any) -> str:
    """Record text made literal for plotly, which reads tags, %{...} and $...$ in what it shows.

    >>> plain("<b>Rex</b> %{y}")
    '&lt;b&gt;Rex&lt;/b&gt; %&#123;y}'
    """
    text = str(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return text.replace("%{", "%&#123;").replace("$", "&#36;")


def axis(title: str = "", **more) -> dict:
    """An axis: a line at the edge, light rules across, no zero line."""
    return {
        "title": {"text": title, "standoff": 10, "font": {"color": SOFT, "size": SIZE}},
        "linecolor": INK,
        "tickcolor": INK,
        "gridcolor": RULE,
        "zeroline": False,
        "ticks": "outside",
        "ticklen": 4,
        "fixedrange": True,
        "automargin": True,
        "tickangle": 0,
        **more,
    }


def percent_axis(title: str, top: float, about: int = 5, **more) -> dict:
    """A share axis from 0 to top, both shares 0 to 1, labelled in percent, in about so many steps; a little room
    below 0 so that a mark at 0 is not cut."""
    top = max(top, 0.02)
    step = nice_step(top * 100, about) / 100
    ticks = [round(step * i, 6) for i in range(int(top / step + 1e-9) + 1)]
    return axis(
        title,
        range=[-0.03 * top, 1.04 * top],
        tickvals=ticks,
        ticktext=[f"{tick * 100:g}%" for tick in ticks],
        **more,
    )


def nice_step(span: float, about: int = 5) -> float:
    """A round distance between ticks that cuts span in about that many parts.

    >>> nice_step(37), nice_step(0.9)
    (10, 0.2)
    """
    rough = max(span, 1e-9) / about
    power = 10 ** math.floor(math.log10(rough))
    step = next(factor for factor in (1, 2, 5, 10) if factor * power >= rough * 0.999) * power
    return round(step, 9) if step < 1 else int(step)


def note(text: str, x, y, **more) -> dict:
    """Words in a figure, without an arrow."""
    return {"text": text, "x": x, "y": y, "showarrow": False, "font": {"size": SIZE, "color": INK}, **more}


def finish(traces: list[dict], height: int, *, xaxis: dict, yaxis: dict, margin: dict | None = None, **layout):
    """A Drawing from traces and axes in plotly's own words, numbers as plain lists.

    Nothing is checked here, as plotly's own check of a page takes seconds; the tests pass every figure of the pages
    through it.
    """
    whole = {
        "font": {"family": FONT, "size": SIZE, "color": INK},
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "showlegend": False,
        "dragmode": False,
        "hovermode": "closest",
        "hoverlabel": {"bgcolor": PAPER, "bordercolor": INK, "font": {"color": INK, "size": SIZE}},
        "margin": {"l": 20, "r": 20, "t": 14, "b": 20, **(margin or {})},
        "height": height,
        "xaxis": xaxis,
        "yaxis": yaxis,
        **layout,
    }
    return Drawing(tidy(traces), tidy(whole), height)


PLAIN = (str, int, bool, type(None))


def tidy(value):
    """Plain JSON values: floats to 9 significant digits, tuples as lists, not-a-number as null."""
    kind = type(value)
    if kind in PLAIN:
        return value
    if kind is dict:
        return {key: tidy(inner) for key, inner in value.items()}
    if kind in (list, tuple) or kind.__name__ == "ndarray":
        return [inner if type(inner) in PLAIN else tidy(inner) for inner in value]
    number = float(value)
    return float(f"{number:.9g}") if math.isfinite(number) else None
