"""How a reading runs over the minutes of the anesthetic: median line, middle half, middle four fifths."""

from pipeline.figures.theme import ACCENT, INK, PAPER, RULE, SIZE, SOFT, WASH, axis, finish, note, plain


def ribbon(minutes: list[int], quantiles: list[list], title: str, *, limits: list[tuple[float, str]] = (),
           span: tuple[float, float] | None = None, height: int = 280):  # fmt: skip
    """A ribbon chart.

    minutes: middle of each class of time since induction [min]; quantiles: five lists, the 10, 25, 50, 75 and 90
    percent quantile in each class; title: the reading and its unit; limits: (value, words) drawn as dashed lines;
    span: lowest and highest value shown, so that neighbours share one scale.
    """
    traces = []
    for low, high, color in ((0, 4, WASH), (1, 3, RULE)):
        for side, fill in ((low, None), (high, "tonexty")):
            traces.append(
                {
                    "type": "scatter",
                    "mode": "lines",
                    "x": minutes,
                    "y": quantiles[side],
                    "hoverinfo": "skip",
                    "line": {"width": 0, "color": PAPER},
                    **({"fill": fill, "fillcolor": color} if fill else {}),
                }
            )
    traces.append(
        {
            "type": "scatter",
            "mode": "lines",
            "name": "median",
            "x": minutes,
            "y": quantiles[2],
            "line": {"color": INK, "width": 2.4},
            "hovertemplate": "%{x} min: %{y:.1f}<extra></extra>",
        }
    )
    notes, shapes = [], []
    for value, words in limits:
        shapes.append({"type": "line", "x0": 0, "x1": 1, "xref": "paper", "y0": value, "y1": value,
                       "line": {"color": ACCENT, "width": 1.5, "dash": "dash"}})  # fmt: skip
        away = "bottom" if quantiles[2][0] < value else "top"
        notes.append(note(plain(words), 0, value, xref="paper", xanchor="left", yanchor=away, xshift=4,
                          font={"size": SIZE - 2, "color": ACCENT}))  # fmt: skip
    for place, words in ((4, "90%"), (2, "half"), (0, "10%")):
        notes.append(note(words, minutes[-1], quantiles[place][-1], xanchor="left", xshift=5,
                          font={"size": SIZE - 2, "color": SOFT}))  # fmt: skip
    return finish(
        traces,
        height,
        xaxis=axis("minutes since the start", range=[0, minutes[-1] * 1.02], showgrid=False),
        yaxis=axis(title, **({"range": list(span)} if span else {})),
        margin={"r": 46},
        annotations=notes,
        shapes=shapes,
    )
