"""How long until: Kaplan-Meier curves with the number still waiting under the axis."""

from pipeline.figures.theme import ACCENT, INK, SIZE, SOFT, axis, finish, nice_step, note, plain


def waiting(curves: list[dict], title: str, until: str, end: float):
    """Curves that fall as the event happens.

    curves: dicts with label, minutes, still (shares after each event time), censored (times), at_risk (a function of
    a list of minutes), median, median_low, median_high (None: not reached). title: the time axis [min]. until: what
    the y axis says is still to come. end: last minute drawn.
    """
    step = nice_step(end, 4)
    ticks = [step * i for i in range(int(end / step + 1e-9) + 1)]
    traces, notes = [], []
    for place, curve in enumerate(curves):
        color, dash = ((INK, "solid"), (ACCENT, "dash"), (SOFT, "dot"))[place]
        x, y = [0.0], [1.0]
        for minute, share in zip(curve["minutes"], curve["still"], strict=True):
            if minute <= end:
                x.append(minute)
                y.append(share)
        x.append(min(end, max([*curve["censored"], *curve["minutes"], 0.0])))
        y.append(y[-1])
        traces.append(
            {"type": "scatter", "mode": "lines", "x": x, "y": y, "name": plain(curve["label"]),
             "line": {"shape": "hv", "color": color, "width": 2.2, "dash": dash},
             "hovertemplate": f"{plain(curve['label'])}: %{{y:.0%}} at %{{x:.0f}} min<extra></extra>"}
        )  # fmt: skip
        cut = [minute for minute in curve["censored"] if minute <= end]
        if cut:
            heights = [next((s for m, s in zip(x[::-1], y[::-1], strict=True) if m <= minute), 1.0) for minute in cut]
            traces.append(
                {
                    "type": "scatter",
                    "mode": "markers",
                    "x": cut,
                    "y": heights,
                    "hoverinfo": "skip",
                    "marker": {"symbol": "line-ns-open", "size": 10, "color": color, "line": {"width": 1.5}},
                }
            )
        if curve["median"] is not None:
            low, high = curve["median_low"], curve["median_high"]
            level = 0.5 + 0.035 * (place if len(curves) > 1 else 0)
            if low is not None and high is not None:
                traces.append({"type": "scatter", "mode": "lines", "x": [low, high], "y": [level, level],
                               "hoverinfo": "skip", "line": {"color": color, "width": 5}, "opacity": 0.5})  # fmt: skip
            traces.append({"type": "scatter", "mode": "markers", "x": [curve["median"]], "y": [level],
                           "name": f"median {plain(curve['label'])}",
                           "hovertemplate": f"median {curve['median']:.1f} min<extra></extra>",
                           "marker": {"symbol": "circle" if place == 0 else "diamond-open", "size": 11, "color": color,
                                      "opacity": 1, "line": {"width": 2}}})  # fmt: skip
        row = {"y": 0, "yref": "paper", "yanchor": "top", "yshift": -62 - 20 * place,
               "font": {"size": SIZE - 2, "color": color}}  # fmt: skip
        for tick, left in zip(ticks, curve["at_risk"](ticks), strict=True):
            notes.append(note(str(left), tick, **row))
        notes.append(note(plain(curve["label"]), 0, xref="paper", xanchor="right", xshift=-26, **row))
    return finish(
        traces,
        310 + 20 * len(curves),
        xaxis=axis(title, tickvals=ticks, range=[-0.015 * end, end * 1.02], showgrid=False),
        yaxis=axis(until, tickvals=[0, 0.25, 0.5, 0.75, 1], ticktext=["0", "25%", "50%", "75%", "100%"],
                   range=[-0.02, 1.04]),
        margin={"b": 78 + 20 * len(curves), "l": 104},
        annotations=notes,
    )  # fmt: skip
