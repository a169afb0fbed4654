"""Each figure's numbers are the rows of results, or of the case tables it says it draws."""

import re

import pytest

from pipeline.reporting.results import Results

YEAR, MONTH = "2025-11..2026-10", "2026-10"


@pytest.fixture(scope="module")
def results(small):
    return Results(small.db)


def trace(figure: dict, name: str) -> dict:
    (found,) = [one for one in figure["data"] if one.get("name") == name]
    return found


def test_every_figure_is_in_plotlys_own_words(pages, drawn):
    """plotly refuses a property or a value that it does not know."""
    import plotly.graph_objects as go
    from page_figures import figures_of

    for id, figure in [*drawn.items(), *figures_of(pages.cases).items(), *figures_of(pages.case).items()]:
        go.Figure(figure)
        assert all("bdata" not in str(one) for one in figure["data"]), id
    with pytest.raises(ValueError, match="Invalid property"):
        go.Figure({"data": [{"type": "scatter", "colour": "red"}]})


def test_the_report_month_is_the_last_complete_one(results):
    assert (results.year, results.month) == (YEAR, MONTH)
    assert [row.period for row in results.series("complication")][-1] == "2026-11"
    assert results.series("complication")[-1].partial


@pytest.mark.parametrize("measure", ["complication", "death_48h"])
def test_rates_by_class_are_rows_of_results(drawn, results, measure):
    figure = drawn[f"{measure.replace('_', '-')}-by-class"]
    for name, period in (("last 12 months", YEAR), ("month", MONTH)):
        rows = [
            results.row(measure, period, "asa_class", row.level) for row in results.levels(measure, YEAR, "asa_class")
        ]
        rows = [row for row in rows if row is not None and row.value is not None]
        marks = trace(figure, name)
        assert marks["x"] == pytest.approx([row.value for row in rows], abs=1e-8)
        assert [a - b for a, b in zip(marks["x"], marks["error_x"]["arrayminus"], strict=True)] == pytest.approx(
            [row.low for row in rows], abs=1e-8
        )
        assert [a + b for a, b in zip(marks["x"], marks["error_x"]["array"], strict=True)] == pytest.approx(
            [row.high for row in rows], abs=1e-8
        )


@pytest.mark.parametrize(
    "id, measures",
    [
        (
            "ventilation-rates",
            ["hypoventilation", "severe_hypoventilation", "hyperventilation", "no_co2", "rebreathing"],
        ),
        ("oxygenation-rates", ["hypoxemia", "severe_hypoxemia"]),
        ("circulation-rates", ["hypotension", "bradycardia", "tachycardia"]),
        ("temperature-rates", ["hypothermia_any", "hypothermia", "hypothermia_severe", "hyperthermia"]),
    ],
)
def test_rates_of_the_monitors_are_rows_of_results(drawn, results, id, measures):
    for name, period in (("last 12 months", YEAR), ("month", MONTH)):
        assert trace(drawn[id], name)["x"] == pytest.approx(
            [results.row(one, period).value for one in measures], abs=1e-8
        )


def test_cases_by_month_are_counted_and_the_partial_month_is_hollow(drawn, results):
    marks = drawn["cases-by-month"]["data"][1]
    series = results.series("complication")
    assert marks["y"] == [row.n for row in series]
    assert [symbol.endswith("-open") for symbol in marks["marker"]["symbol"]] == [row.partial for row in series]
    assert marks["marker"]["symbol"][-2] == "diamond"


@pytest.mark.parametrize("measure", ["complication", "hypothermia", "hypoventilation", "hypotension", "to_extubation"])
def test_control_charts_plot_the_months_of_results(drawn, results, measure):
    figure = drawn[f"change-{measure.replace('_', '-')}"]
    marks = trace(figure, "value")
    series = results.series(measure)
    assert marks["y"] == pytest.approx([row.value for row in series], abs=1e-8)
    assert [symbol == "circle-open" for symbol in marks["marker"]["symbol"]] == [row.partial for row in series]


@pytest.mark.parametrize("measure", ["to_extubation", "to_sternal", "to_standing"])
def test_medians_on_the_curves_are_those_of_results(drawn, results, measure):
    figure = drawn[f"{measure.replace('_', '-')}-curve"]
    for label, period in (("12\u00a0months", YEAR), ("Oct 2026", MONTH)):
        row = results.row(measure, period)
        assert trace(figure, f"median {label}")["x"] == [pytest.approx(row.value, abs=1e-8)]
        curve = trace(figure, label)
        crossed = next(x for x, y in zip(curve["x"], curve["y"], strict=True) if y <= 0.5 + 1e-9)
        assert crossed == pytest.approx(row.value)
        at_start = [
            note["text"] for note in figure["layout"]["annotations"] if note["x"] == 0 and note["text"].isdigit()
        ]
        assert str(int(row.denominator)) in at_start


def test_bars_of_agreement_are_rows_of_results(drawn, results):
    figure = drawn["agreement-figure"]
    named = {"both": "both", "detected, not charted": "detected_only", "charted, not seen": "charted_only"}
    for words, part in named.items():
        bars = trace(figure, words)
        for label, count in zip(bars["y"], bars["x"], strict=True):
            assert count == results.row(f"agreement_{label.lower()}_{part}", YEAR).numerator


def test_the_cloud_of_cases_holds_every_case_with_a_temperature(drawn, small):
    found = small.db.execute(
        """SELECT count(*), min(lowest), count(*) FILTER (WHERE month_no = 2026 * 12 + 9)
        FROM case_temperatures JOIN case_windows USING (case_id)
        WHERE lowest IS NOT NULL AND month_no BETWEEN 2025 * 12 + 10 AND 2026 * 12 + 9"""
    ).fetchone()
    rings, diamonds = (trace(drawn["coldest"], name) for name in ("12 months", "month"))
    assert len(rings["y"]) + len(diamonds["y"]) == found[0]
    assert min(rings["y"] + diamonds["y"]) == found[1]
    assert len(diamonds["y"]) == found[2]


def test_ribbons_hold_the_quantiles_of_the_readings(drawn, small):
    """The median line at 15 min, computed again with plain SQL."""
    figure = drawn["course-etco2-mechanical"]
    at = trace(figure, "median")["x"].index(15)
    (median,) = small.db.execute(
        """SELECT quantile_cont(mean_val, 0.5) FROM (
            SELECT vital_readings.case_id, avg(val) AS mean_val
            FROM vital_readings JOIN case_windows USING (case_id) JOIN stg_cases USING (case_id)
            WHERE parameter = 'etco2' AND reason IS NULL AND ventilation = 'mechanical'
                AND taken_s - case_windows.start_s >= 600 AND taken_s - case_windows.start_s < 1200
                AND taken_s <= end_s AND month_no BETWEEN 2025 * 12 + 10 AND 2026 * 12 + 9
            GROUP BY 1)"""
    ).fetchone()
    assert trace(figure, "median")["y"][at] == pytest.approx(median)


def test_every_charted_reading_of_a_case_is_on_its_page(pages, small):
    from page_figures import figures_of

    figure = figures_of(pages.case)["anesthetic"]
    for parameter, label in (("heart_rate", "heart rate"), ("spo2", "SpO₂"), ("temperature", "temperature")):
        values = [row[0] for row in small.db.execute(
            "SELECT val FROM vital_readings WHERE case_id = ? AND parameter = ? AND reason IS NULL ORDER BY taken_s",
            [pages.case_id, parameter]).fetchall()]  # fmt: skip
        found = [one for one in figure["data"] if one.get("name") == label]
        assert [value for value in (found[0]["y"] if found else []) if value is not None] == values


def test_the_sentences_at_the_top_hold_numbers_of_results(pages, results):
    html = pages.quality.read_text(encoding="utf-8")
    lead = re.search(r'class="lead".*?</section>', html, re.DOTALL)[0]
    deaths = results.row("death_48h", YEAR)
    assert f"{results.row('death_48h').n} anesthetics in October 2026" in lead
    assert f"{deaths.numerator:.0f} of {deaths.denominator:.0f}" in lead
    assert lead.count("<li>") == 5
