"""From exports to order sheet, book and page: a small invented clinic through the whole pipeline."""

import csv
import re
from dataclasses import replace
from html import unescape
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest

from pipeline import database, intake, measures, models, settings, stock
from pipeline.progress import Silent
from pipeline.simulate import write_clinic
from pipeline.stock import pages

ITEMS = (
    "propofol_20ml",
    "isoflurane_250ml",
    "methadone_10ml",
    "atropine_1ml",
    "absorbent_4500g",
    "scavenging_canister",
)


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    """Sixteen months of a quiet clinic without faults of charting, six of its items, loaded and computed."""
    folder = tmp_path_factory.mktemp("clinic")
    write_clinic(folder, months=16, cases=480, faults=False)
    given = settings.read(folder / settings.FILE)
    chosen = replace(given, planned={}, items={name: given.items[name] for name in ITEMS})
    with database.connect() as db:
        intake.load(db, chosen, folder, None, Silent())
        db.execute(f"DELETE FROM stock WHERE item NOT IN ({', '.join('?' * len(ITEMS))})", list(ITEMS))
        models.prepare(db, chosen)
        models.build(db, chosen)
        measures.compute(db, chosen, None)
        stock.compute(db, chosen)
        yield SimpleNamespace(db=db, settings=chosen, folder=folder)


def rows(clinic, sql):
    found = clinic.db.execute(sql)
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def test_every_item_has_one_line_and_a_reason(clinic):
    sheet = rows(clinic, "SELECT * FROM order_sheet")
    assert {row["item"] for row in sheet} >= set(clinic.settings.items)
    assert len({row["item"] for row in sheet}) == len(sheet)
    assert all(row["why"] for row in sheet)


def test_a_line_adds_up(clinic):
    for row in rows(clinic, "SELECT * FROM order_sheet WHERE packs IS NOT NULL"):
        item = clinic.settings.items[row["item"]]
        assert row["order_point"] % row["pack_size"] == pytest.approx(0, abs=1e-6), row["item"]
        assert row["order_point"] >= (item.minimum or 0)
        assert row["due"] == (row["on_hand"] <= row["order_point"])
        assert row["due"] == (row["order_by"] == row["as_of"])
        assert row["cost"] == row["packs"] * item.price


def test_what_is_there_is_what_the_book_says(clinic):
    last = {
        row["item"]: row["on_hand_qty"]
        for row in rows(
            clinic,
            "SELECT item, on_hand_qty FROM stock_positions "
            "QUALIFY row_number() OVER (PARTITION BY item ORDER BY move_no DESC) = 1",
        )
    }
    for row in rows(clinic, "SELECT * FROM order_sheet WHERE NOT estimated AND on_hand IS NOT NULL"):
        assert row["on_hand"] == last[row["item"]]


def test_forecasts_begin_after_the_last_complete_month(clinic):
    last = clinic.db.execute("SELECT max(month_no) FROM report_months WHERE complete").fetchone()[0]
    ahead = rows(clinic, "SELECT DISTINCT ahead, month_no FROM forecasts ORDER BY 1")
    assert ahead == [{"ahead": step, "month_no": last + step} for step in (1, 2, 3)]
    for row in rows(clinic, "SELECT * FROM forecasts"):
        assert 0 <= row["low_95"] <= row["low_80"] <= row["mean"] <= row["high_80"] <= row["high_95"]


def test_use_by_month_is_conserved_from_the_rows_to_the_forecast(clinic):
    charted = dict(
        clinic.db.execute("""
            SELECT item, sum(qty) FROM item_use WHERE month_no BETWEEN (SELECT min(month_no) FROM item_demand)
                AND (SELECT max(month_no) FROM item_demand) GROUP BY item
        """).fetchall()
    )
    for row in rows(clinic, "SELECT item, sum(charted) AS charted FROM item_demand GROUP BY item"):
        assert row["charted"] == pytest.approx(charted.get(row["item"], row["charted"])), row["item"]


def test_six_more_dental_days_raise_what_dental_cases_use_and_only_from_then_on(clinic):
    before = {(row["item"], row["ahead"]): row["mean"] for row in rows(clinic, "SELECT * FROM forecasts")}
    last = clinic.db.execute("SELECT max(month_no) FROM report_months WHERE complete").fetchone()[0]
    second = f"{(last + 2) // 12:04d}-{(last + 2) % 12 + 1:02d}"
    plan = {"from": second, "procedure_group": "dental", "more_days_a_month": 6, "cases_a_day": 4}
    try:
        stock.compute(clinic.db, replace(clinic.settings, planned={"dental": plan}))
        after = {(row["item"], row["ahead"]): row["mean"] for row in rows(clinic, "SELECT * FROM forecasts")}
        for item in ("propofol_20ml", "isoflurane_250ml"):
            assert after[item, 1] == pytest.approx(before[item, 1])
            assert after[item, 2] > before[item, 2] * 1.1
        dental, every = clinic.db.execute("""
            SELECT sum(CASE WHEN procedure_group = 'dental' THEN qty ELSE 0 END), sum(qty) FROM item_use
            WHERE item = 'isoflurane_250ml'
        """).fetchone()
        assert 0 < dental < every
    finally:
        stock.compute(clinic.db, clinic.settings)


def test_a_seeded_loss_is_found_to_its_file_and_row(clinic):
    """One count of the methadone cupboard and all after it read 1.5 mL less: only the first of them is off."""
    book = "SELECT * FROM drug_book_lines WHERE state = 'off'"
    known = {(row["what"], row["book_day"]) for row in rows(clinic, book)}
    of_it = "item = 'methadone_10ml' AND movement = 'counted'"
    counts = rows(clinic, f"SELECT source_file, source_row, at_s FROM stock WHERE {of_it} ORDER BY at_s")
    planted = counts[len(counts) // 2]
    change = f"UPDATE stock SET quantity = quantity + ? WHERE {of_it} AND at_s >= ?"
    try:
        clinic.db.execute(change, [-1.5, planted["at_s"]])
        stock.compute(clinic.db, clinic.settings)
        found = [row for row in rows(clinic, book) if (row["what"], row["book_day"]) not in known]
        assert [(row["what"], row["source_file"], row["source_row"]) for row in found] == [
            ("methadone_10ml", planted["source_file"], planted["source_row"])
        ]
        assert found[0]["difference_ml"] == pytest.approx(1.5)
    finally:
        clinic.db.execute(change, [1.5, planted["at_s"]])
        stock.compute(clinic.db, clinic.settings)


@pytest.fixture(scope="module")
def written(clinic):
    pages.write(clinic.db, clinic.settings, clinic.folder)
    pages.write(clinic.db, clinic.settings, clinic.folder, share=True)
    return clinic.folder / "reports"


def text_of(path: Path) -> str:
    html = path.read_text(encoding="utf-8")
    words = re.sub(r"<script.*?</script>|<style.*?</style>|<[^>]+>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(words))


def test_the_page_answers_in_order(written):
    said = text_of(written / "stock.html")
    titles = ["What to order", "What comes", "The store beside the records", "What we used", "Machines",
              "Controlled-drug book", "Climate cost"]  # fmt: skip
    places = [said.index(f"{place} {title}") for place, title in enumerate(titles, start=1)]
    assert places == sorted(places)
    for words in ("local law", "How this is computed", "Order sheet", "MASE"):
        assert words in said


def test_the_order_sheet_is_the_same_in_every_form(clinic, written):
    sheet = rows(clinic, "SELECT item, packs FROM order_sheet WHERE packs IS NOT NULL")
    expected = {row["item"]: row["packs"] for row in sheet}
    book = openpyxl.load_workbook(written / "order_sheet.xlsx")
    head, *lines = book["order-sheet"].iter_rows(values_only=True)
    assert head[:2] == ("Item", "Packs")
    assert {line[0]: line[1] for line in lines} == expected
    assert all(cell.data_type != "f" for row in book["order-sheet"].iter_rows() for cell in row)
    with (written / "tables" / "order_sheet_order-sheet.csv").open(encoding="utf-8", newline="") as file:
        assert {line["Item"]: int(line["Packs"]) for line in csv.DictReader(file)} == expected


def test_the_whole_book_stands_in_the_csv_and_its_last_12_months_in_the_workbook(clinic, written):
    with (written / "tables" / "stock_details_book-lines.csv").open(encoding="utf-8", newline="") as file:
        whole = list(csv.DictReader(file))
    assert len(whole) == rows(clinic, "SELECT count(*) AS n FROM drug_book_lines")[0]["n"]
    first = rows(clinic, "SELECT max(period) AS year FROM results WHERE period LIKE '%..%'")[0]["year"][:7]
    recent = [line for line in whole if not line["Day"] or line["Day"] >= f"{first}-01"]
    assert 0 < len(recent) < len(whole)
    sheet = openpyxl.load_workbook(written / "stock_details.xlsx")["book-lines"]
    assert [cell.value for cell in sheet[1]] == list(whole[0])
    assert [row[3] for row in sheet.iter_rows(min_row=2, values_only=True)] == [line["Case"] or None for line in recent]
    said = text_of(written / "stock.html")
    assert f"Every line since {first}-01" in said and "tables/stock_details_book-lines.csv" in said


def test_local_rules_of_the_book_are_read_from_the_settings(clinic):
    silent = replace(clinic.settings, controlled=settings.Controlled())
    said = text_of(pages.write(clinic.db, silent, clinic.folder)[0])
    assert "clinic.toml states no rule ([controlled] witness_waste)" in said
    asked = replace(clinic.settings, controlled=settings.Controlled(witness_waste=True, count_days=1, keep_years=5))
    said = text_of(pages.write(clinic.db, asked, clinic.folder)[0])
    alone, wasted = clinic.db.execute("""
        SELECT count(*) FILTER (witnessed_by IS NULL OR witnessed_by = given_by), count(*) FROM drugs
        WHERE drug = 'methadone' AND wasted_ml > 0
    """).fetchone()
    assert wasted > 0 and f"Witness: {alone} doses have waste without a second person's code" in said
    assert re.search(r"longer than 1 day apart: methadone 10 mL \d+ times", said)
    assert "must be kept 5 years" in said


def test_a_shared_page_has_no_case_no_person_and_no_details(clinic, written):
    html = (written / "shared" / "stock.html").read_text(encoding="utf-8")
    cases = {row["case_id"] for row in rows(clinic, "SELECT case_id FROM cases")}
    people = {row["given_by"] for row in rows(clinic, "SELECT DISTINCT given_by FROM drugs WHERE given_by IS NOT NULL")}
    words = set(re.findall(r"[\w-]+", text_of(written / "shared" / "stock.html")))
    assert not words & cases and not words & people
    assert "do not balance" not in html
    assert not (written / "shared" / "stock_details.xlsx").exists()


def test_names_of_items_cannot_carry_markup_or_leave_the_folder(clinic):
    hostile = "../<script>alert(1)</script>"
    given = replace(clinic.settings, items={**clinic.settings.items, hostile: clinic.settings.items["propofol_20ml"]})
    try:
        stock.compute(clinic.db, given)
        made = pages.write(clinic.db, given, clinic.folder)
        assert all(path.is_relative_to(clinic.folder / "reports") for path in (one.resolve() for one in made))
        assert "<script>alert" not in made[0].read_text(encoding="utf-8")
    finally:
        stock.compute(clinic.db, clinic.settings)


def test_a_clinic_without_stock_rows_or_items_is_told_what_to_add(clinic):
    clinic.db.execute("CREATE TEMP TABLE kept AS SELECT * FROM stock; DELETE FROM stock")
    try:
        bare = replace(clinic.settings, items={})
        stock.compute(clinic.db, bare)
        assert rows(clinic, "SELECT * FROM order_sheet") == []
        said = text_of(pages.write(clinic.db, bare, clinic.folder)[0])
        assert "no item" in said.lower() and "clinic.toml" in said
    finally:
        clinic.db.execute("INSERT INTO stock SELECT * FROM kept; DROP TABLE kept")
        stock.compute(clinic.db, clinic.settings)
