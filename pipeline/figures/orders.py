"""What lasts how long, and what a safer shelf costs."""

from pipeline.figures.theme import ACCENT, INK, RULE, SIZE, SOFT, axis, finish, nice_step, note, plain

ROW_PX = 26
FAR_DAYS = 120


def runway(rows: list[dict], title: str):
    """A line a row from today to the day nothing is left.

    rows: dicts with label, days (None: beyond the forecast), lead (days an order takes), due (order now), said
    (at the right). Filled diamond and thick line: due now. Upright tick: the lead time. An arrow head stands for
    longer than the axis.
    """
    longest = min(FAR_DAYS, max([row["days"] or 0 for row in rows] + [row["lead"] for row in rows] + [14]))
    spots = list(range(len(rows)))
    ends = [min(longest, FAR_DAYS if row["days"] is None else row["days"]) for row in rows]
    traces = []
    for due, width in ((False, 1.5), (True, 4)):
        x, y = [], []
        for spot, row, end in zip(spots, rows, ends, strict=True):
            if row["due"] is due:
                x += [0, end, None]
                y += [spot, spot, None]
        traces.append({"type": "scatter", "mode": "lines", "x": x, "y": y, "hoverinfo": "skip",
                       "line": {"color": ACCENT if due else INK, "width": width}})  # fmt: skip
    beyond = [row["days"] is None or row["days"] > longest for row in rows]
    symbols = ["triangle-right" if far else "diamond" if row["due"] else "circle"
               for row, far in zip(rows, beyond, strict=True)]  # fmt: skip
    colors = [ACCENT if row["due"] else INK for row in rows]
    traces.append(
        {"type": "scatter", "mode": "markers", "x": ends, "y": spots, "cliponaxis": False,
         "marker": {"symbol": symbols, "size": [13 if row["due"] else 9 for row in rows], "color": colors, "opacity": 1,
                    "line": {"width": 1, "color": colors}},
         "hovertemplate": [f"{plain(row['label'])}: {plain(row['said'])}<extra></extra>" for row in rows]}
    )  # fmt: skip
    traces.append(
        {"type": "scatter", "mode": "markers", "x": [row["lead"] for row in rows], "y": spots, "hoverinfo": "skip",
         "marker": {"symbol": "line-ns-open", "size": 14, "color": SOFT, "line": {"width": 2, "color": SOFT}}}
    )  # fmt: skip
    said = max([len(row["said"]) for row in rows] + [0])
    return finish(
        traces,
        90 + ROW_PX * len(rows),
        xaxis=axis(title, range=[-1, longest * 1.02], dtick=nice_step(longest), side="bottom"),
        yaxis=axis("", tickvals=spots, ticktext=[plain(row["label"]) for row in rows], range=[len(rows) - 0.4, -0.6],
                   ticks="", linecolor=RULE),
        margin={"r": 24 + 7 * said},
        annotations=[note(plain(row["said"]), 1, spot, xref="paper", xanchor="left", xshift=12,
                          font={"size": SIZE - 2, "color": ACCENT if row["due"] else SOFT})
                     for spot, row in zip(spots, rows, strict=True)],
    )  # fmt: skip


def trade_off(points: list[dict], title: str):
    """Money tied up against service level. points: dicts with service (0 to 1), money, said."""
    x = list(range(len(points)))
    top = max([one["money"] for one in points] + [1])
    return finish(
        [
            {"type": "scatter", "mode": "lines+markers", "x": x, "y": [one["money"] for one in points],
             "cliponaxis": False, "line": {"color": INK, "width": 2},
             "marker": {"symbol": "circle", "opacity": 1, "size": 9, "color": INK},
             "hovertemplate": [f"{plain(one['said'])}<extra></extra>" for one in points]},
        ],
        260,
        xaxis=axis("lead times without running out", tickvals=x,
                   ticktext=[f"{one['service'] * 100:g}%" for one in points], range=[-0.5, len(points) - 0.5],
                   showgrid=False),
        yaxis=axis(title, range=[0, top * 1.12], dtick=nice_step(top)),
    )  # fmt: skip
