"""One anesthetic: what its page says, draws and lists; and the cases the rules put forward."""

import csv
from datetime import datetime

import pytest
from page_figures import figures_of

from pipeline.errors import UserFault
from pipeline.figures.timeline import broken, stage_rows
from pipeline.reporting import case_page
from pipeline.reporting.cases.chart import chart, clock_ticks
from pipeline.reporting.cases.record import Record, read
from pipeline.reporting.cases.words import describe, detected, file_part
from pipeline.reporting.display import Display
from pipeline.reporting.quality.discuss import foremost, put_forward
from pipeline.reporting.results import Results
from pipeline.reporting.review import Review
from pipeline.settings import from_dict


def review(small, **more):
    return Review(small.db, small.settings, None, Results(small.db), Display(small.settings.display), **more)


def test_a_case_nobody_loaded_is_a_sentence_without_its_number(small, tmp_path):
    with pytest.raises(UserFault) as fault:
        case_page(small.db, small.settings, tmp_path, "Rex of the Smiths")
    assert "not in the database" in str(fault.value)
    assert "Smith" not in str(fault.value)


def test_a_case_number_cannot_leave_the_folder():
    assert file_part("../../etc") == "_2e_2e_2f_2e_2e_2fetc"
    assert file_part("A-26 1/2") == "A-26_201_2f2"


def test_the_record_is_in_minutes_of_its_start(small, pages):
    record = read(small.db, small.settings, pages.case_id)
    assert record.readings["heart_rate"][0][:3] == [0.0, 5.0, 10.0]
    assert dict((words, minute) for minute, words in record.stages)["vaporizer on"] == 5.0
    assert record.span()[0] < 0 < record.window["anesthesia_min"] < record.span()[1]


def test_what_was_detected_is_what_the_episodes_say(small):
    case_id, minutes = small.db.execute(
        "SELECT case_id, beyond_min FROM case_exposures WHERE measure = 'hypotension' AND has = 1 ORDER BY area DESC"
    ).fetchone()
    record = read(small.db, small.settings, case_id)
    found = [one["minutes"] for one in record.episodes if one["measure"] == "hypotension"]
    assert 0 < sum(found) <= minutes
    assert f"hypotension for {sum(found):.0f} min" in detected(record)


def test_drawn_limits_are_those_of_the_animal(small):
    """A dog: shaded below a mean pressure of 60 and above an end-tidal CO2 of 45, the seeds' limits."""
    (case_id,) = small.db.execute(
        "SELECT min(case_id) FROM stg_cases WHERE species = 'dog' AND weight_kg <= 10"
    ).fetchone()
    record = read(small.db, small.settings, case_id)
    drawing = chart(record, Display(small.settings.display))
    shaded = [shape for shape in drawing.layout["shapes"] if shape["type"] == "rect"]
    edges = {edge for shape in shaded for edge in (shape["y0"], shape["y1"])}
    assert {60, 70, 45, 95, 36.5} <= edges


def test_temperatures_follow_the_display(small, pages):
    record = read(small.db, small.settings, pages.case_id)
    fahrenheit = Display(from_dict({"zone": "UTC", "display": {"temperature": "F", "weight": "lb"}}).display)
    if "temperature" in record.readings:
        values = record.readings["temperature"][1]
        drawn = next(one for one in chart(record, fahrenheit).data if one.get("name") == "temperature")
        assert [y for y in drawn["y"] if y is not None] == pytest.approx([value * 9 / 5 + 32 for value in values])
    assert " lb," in describe(record, fahrenheit)


def test_a_gap_in_the_record_is_a_gap_in_the_line():
    assert broken([0, 5, 10, 40, 45], [1, 2, 3, 4, 5]) == ([0, 5, 10, 25.0, 40, 45], [1, 2, 3, None, 4, 5])


def test_stage_words_never_cover_one_another():
    stages = [(float(minute), "spontaneous breathing") for minute in (0, 1, 2, 3, 60)]
    assert stage_rows(stages, (0, 60))[:4] == [0, 1, 2, 3]


def test_clock_ticks_are_round_local_times(small):
    record = Record(
        {}, {}, int(datetime(2026, 7, 1, 7, 10).timestamp()), small.db and __import__("zoneinfo").ZoneInfo("UTC")
    )
    record.origin_s = 1_782_889_800  # 2026-07-01 07:10 UTC
    assert [words for _, words in clock_ticks(record, (-5, 65), 9)][:2] == ["07:10", "07:20"]


def test_the_rules_put_the_foremost_forward_deaths_first(small):
    found = put_forward(review(small))
    chosen = foremost(found)
    assert 0 < len(chosen) <= 8
    dead = [row[0] for row in small.db.execute(
        "SELECT case_id FROM case_deaths JOIN case_windows USING (case_id) "
        "WHERE fate = 'died' AND month_no = 2026 * 12 + 9 ORDER BY 1").fetchall()]  # fmt: skip
    assert list(chosen)[: len(dead)] == dead
    furthest = small.db.execute(
        """SELECT case_id FROM case_exposures JOIN case_windows USING (case_id)
        WHERE measure = 'hypotension' AND has = 1 AND month_no = 2026 * 12 + 9 ORDER BY area DESC, case_id"""
    ).fetchone()[0]
    assert "furthest and longest below the pressure limit" in chosen[furthest]


def test_every_case_put_forward_is_drawn_on_both_pages_and_linked(small, pages):
    chosen = foremost(put_forward(review(small)))
    on_quality, on_cases = figures_of(pages.quality), figures_of(pages.cases)
    html, whole = (path.read_text(encoding="utf-8") for path in (pages.quality, pages.cases))
    for case_id in chosen:
        part = file_part(case_id)
        assert f"discuss-{part}" in on_quality and f"case-{part}-figure" in on_cases
        assert f'href="cases.html#case-{part}"' in html and f'<section id="case-{part}"' in whole


def test_the_readings_of_a_case_stand_beside_its_page(pages, small):
    with (pages.folder / "tables" / f"case_{pages.case_id}_readings.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    (count,) = small.db.execute(
        "SELECT count(*) FROM vital_readings WHERE case_id = ? AND val IS NOT NULL", [pages.case_id]
    ).fetchone()
    assert len(rows) == count
