"""Shares as dots with their intervals, one row a group: long-run filled dot, the month a hollow diamond."""

from pipeline.figures.theme import (
    ACCENT,
    INK,
    RULE,
    SIZE,
    SOFT,
    axis,
    finish,
    note,
    percent_axis,
    plain,
)

ROW_PX = 46


def rates(rows: list[dict], title: str, beside: str = "", beside_month: str = "", steps: int = 5):
    """Dots with intervals.

    rows: dicts with label; value, low, high (shares 0 to 1 or None); said ('7 of 549'); and, all optional,
    month (share of the month judged), month_low, month_high, month_said, published (list of (low, high, value,
    label)), drawn under the row as a bracket. title: what the axis shows. beside, beside_month: headings over the
    counts at the right. steps: of the axis, fewer where the figure is narrow.
    """
    spots = list(range(len(rows)))
    split = any(row.get("month") is not None for row in rows)
    up, down = (-0.16, 0.16) if split else (0.0, 0.0)
    traces, notes = [], []
    first = 10
    second = first + _width([row.get("said", "") for row in rows] + [beside])
    edge = second + _width([row.get("month_said", "") for row in rows] + [beside_month])
    traces += _marks(rows, spots, up, "value", "low", "high", "circle", INK, 11, "last 12 months")
    if split:
        traces += _marks(rows, spots, down, "month", "month_low", "month_high", "diamond-open", ACCENT, 12, "month")
    top = max(
        [row[key] or 0 for row in rows for key in ("value", "high", "month") if row.get(key) is not None]
        + [high for row in rows for _, high, _, _ in row.get("published", ())]
        + [0.02]
    )
    for spot, row in zip(spots, rows, strict=True):
        for low, high, value, label in row.get("published", ()):
            y = spot + 0.38
            traces.append({"type": "scatter", "mode": "lines", "x": [low, high], "y": [y, y], "hoverinfo": "text",
                           "text": plain(label), "line": {"color": SOFT, "width": 5}, "opacity": 0.45})  # fmt: skip
            traces.append(
                {
                    "type": "scatter",
                    "mode": "markers",
                    "x": [value],
                    "y": [y],
                    "hoverinfo": "skip",
                    "marker": {"symbol": "line-ns-open", "color": SOFT, "size": 13, "line": {"width": 2}},
                }
            )
        notes += [
            _count(row.get("said", ""), first, spot, INK),
            _count(row.get("month_said", ""), second, spot, ACCENT),
        ]
    notes += [_count(beside, first, -0.75, INK), _count(beside_month, second, -0.75, ACCENT)]
    y = axis(
        "",
        tickvals=spots,
        ticktext=[plain(row["label"]) for row in rows],
        range=[len(rows) - 0.4, -1.0 if beside else -0.6],
        ticks="",
        linecolor=RULE,
    )
    return finish(
        traces,
        80 + ROW_PX * len(rows) + (16 if beside else 0),
        xaxis=percent_axis(title, top, steps),
        yaxis=y,
        margin={"r": edge},
        annotations=[one for one in notes if one["text"]],
    )


def _marks(rows, spots, shift, value, low, high, symbol, color, size, what) -> list[dict]:
    shown = [(spot + shift, row) for spot, row in zip(spots, rows, strict=True) if row.get(value) is not None]
    if not shown:
        return []
    marks = {
        "type": "scatter",
        "mode": "markers",
        "name": what,
        "x": [row[value] for _, row in shown],
        "y": [spot for spot, _ in shown],
        "cliponaxis": False,
        "marker": {"symbol": symbol, "color": color, "size": size, "opacity": 1, "line": {"width": 2, "color": color}},
        "hovertemplate": [f"{plain(row['label'])}, {what}: {100 * row[value]:.1f}%<extra></extra>" for _, row in shown],
    }
    if all(row.get(low) is not None for _, row in shown):
        marks["error_x"] = {
            "type": "data",
            "symmetric": False,
            "array": [row[high] - row[value] for _, row in shown],
            "arrayminus": [row[value] - row[low] for _, row in shown],
            "color": color,
            "thickness": 2 if symbol == "circle" else 1,
            "width": 5 if symbol == "circle" else 3,
        }
    return [marks]


def _count(text: str, shift: int, spot: float, color: str) -> dict:
    """A count at the right of the plot, shift pixels out."""
    return note(
        plain(text), 1, spot, xref="paper", xanchor="left", xshift=shift, font={"size": SIZE - 1, "color": color}
    )


def _width(texts: list[str]) -> int:
    """Pixels a column of counts needs; none when it is empty."""
    longest = max((len(text) for text in texts), default=0)
    return 8 * longest + 18 if longest else 0
