"""Text in any dialect we read comes back cell for cell, each row with its line."""

import csv
import gzip
import io

import numpy as np
import pyarrow as pa
import pytest
import zstandard
from clinic_folder import CASES, counts
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.intake import cutting, exact_lines, growing, text_files
from pipeline.intake.encodings import decode

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("separator", SEPARATORS)
def test_encodings_and_separators(clinic, encoding, separator):
    text = "case_id,species,procedure\nA1,dog,Knie “ok” à 5 µg\nA2,cat,Zähne\n".replace(",", separator)
    account = clinic.load_text("cases.csv", text, encoding)
    assert counts(account) == (2, 2, 0, 0, 0, 0)
    assert (account.encoding, account.separator) == (encoding, SEPARATORS[separator])
    assert clinic.ask("SELECT procedure FROM cases ORDER BY case_id") == [("Knie “ok” à 5 µg",), ("Zähne",)]
    assert [note.rule for note in account.notes] == ([] if encoding.startswith("utf-8") else ["F1"])


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
def test_line_ends(clinic, ends, last):
    text = CASES.replace("\n", ends)
    account = clinic.load_text("cases.csv", text if last else text.removesuffix(ends))
    assert counts(account) == (2, 2, 0, 0, 0, 0)
    assert clinic.ask("SELECT source_row FROM cases ORDER BY 1") == [(2,), (3,)]


def test_mixed_line_ends(clinic):
    assert counts(clinic.load_text("cases.csv", "case_id,species\nA1,dog\r\nA2,cat\rA3,dog\n")) == (3, 3, 0, 0, 0, 0)
    assert clinic.ask("SELECT source_row FROM cases ORDER BY 1") == [(2,), (3,), (4,)]


@pytest.mark.parametrize(
    ("ending", "pack"), [(".gz", gzip.compress), (".zst", lambda data: zstandard.ZstdCompressor().compress(data))]
)
def test_archives(clinic, ending, pack):
    assert counts(clinic.load_text("cases.csv" + ending, pack(CASES.encode()))) == (2, 2, 0, 0, 0, 0)


def test_headers_are_cleaned(clinic):
    header = "\ufeffCase ID\u00a0,SPECIES,\u200bweight-kg , asa class"
    account = clinic.load_text("cases.csv", f"{header}\nA1,dog,12.5,2\n")
    assert counts(account) == (1, 1, 0, 0, 0, 0)
    assert clinic.ask("SELECT case_id, species, weight_kg, asa_class FROM cases") == [("A1", "dog", 12.5, 2)]


def test_columns_in_any_order_blank_lines_trailing_separators_and_repeated_headers(clinic):
    text = (
        "Anesthetics 03/2025,,\n,,\nspecies,case_id,weight_kg\ndog,A1,12.5\n\n,,\nspecies,case_id,weight_kg\n"
        "cat,A2,4.2,,\n   , ,\n"
    )
    account = clinic.load_text("cases.csv", text)
    assert counts(account) == (2, 2, 0, 0, 0, 6)
    assert account.lines == 8
    assert clinic.ask("SELECT case_id, source_row FROM cases ORDER BY 1") == [("A1", 4), ("A2", 8)]


def test_the_table_is_told_by_the_columns_not_by_the_name(clinic):
    assert clinic.load_text("export_17.csv", CASES).table == "cases"
    vitals = "case_id,taken_at,spo2\nA1,2025-03-06 08:20,98\n"
    assert clinic.load_text("cases_of_march.csv", vitals).table == "vitals"


def test_a_cell_over_two_lines_is_one_cell(clinic):
    text = 'case_id,procedure,species\nA1,"spay,\nroutine",dog\nA2,"said ""ok""",cat\n'
    account = clinic.load_text("cases.csv", text)
    assert counts(account) == (2, 2, 0, 0, 0, 1)
    assert account.lines == 3
    assert clinic.ask("SELECT procedure, source_row FROM cases ORDER BY case_id") == [
        ("spay,\nroutine", 2),
        ('said "ok"', 4),
    ]


def test_one_stray_quote_costs_one_line(clinic):
    text = "case_id,procedure,species\nA1,spay,dog\n" + 'A2,"quiet, then,dog\n' + "A3,spay,dog\nA4,spay,dog\n"
    account = clinic.load_text("cases.csv", text)
    assert counts(account) == (4, 3, 0, 0, 1, 0)
    assert clinic.ask('SELECT "row", rule, reason, raw FROM quarantine') == [
        (
            3,
            "unbalanced_quote",
            "line 3 opens a quote that is not closed in that line or the next",
            'A2,"quiet, then,dog',
        )
    ]


def test_a_cut_last_line_and_a_line_too_long_are_quarantined(clinic):
    account = clinic.load_text("cases.csv", "case_id,species,weight_kg\nA1,dog,12.5\nA2,dog,12,5\nA3,do")
    assert counts(account) == (3, 1, 0, 0, 2, 0)
    assert clinic.ask('SELECT "row", reason FROM quarantine ORDER BY 1') == [
        (3, "line 3 has more cells than the header; a separator may stand in a cell without quotes"),
        (4, "line 4 has fewer cells than the header; it may have been cut off"),
    ]


def test_one_unreadable_byte_costs_one_line(clinic):
    text = "case_id,species,procedure\nA1,dog,Zähne\nA2,dog,Knie\nA3,dog,Äußeres Ohr\n".encode()
    account = clinic.load_text("cases.csv", text.replace(b"Knie", b"Kn\xe9e"))
    assert counts(account) == (3, 2, 0, 0, 1, 0)
    assert account.encoding == "utf-8"
    assert clinic.ask('SELECT "row", rule FROM quarantine') == [(3, "unreadable_byte")]


def test_a_header_without_rows_is_noted(clinic):
    account = clinic.load_text("cases.csv", "case_id,species\n")
    assert counts(account) == (0, 0, 0, 0, 0, 0)
    assert [(note.rule, note.kind, note.sentence) for note in account.notes] == [
        ("F18", "W", "The file holds column names but no rows; is that so?")
    ]


def test_unknown_columns_are_told_with_the_nearest_of_ours(clinic):
    account = clinic.load_text("cases.csv", "case_id,species,weigth_kg,mood\nA1,dog,12,good\n")
    assert [note.sentence for note in account.notes] == [
        "The column weigth_kg is none of ours; it was not loaded. Is weight_kg meant?",
        "The column mood is none of ours; it was not loaded.",
    ]


def test_a_column_twice_with_equal_cells_is_read_once(clinic):
    account = clinic.load_text("cases.csv", "case_id,species,species\nA1,dog,dog\n")
    assert [note.rule for note in account.notes] == ["F13"]
    assert counts(account) == (1, 1, 0, 0, 0, 0)


def test_paths_with_spaces_accents_and_apostrophes(clinic):
    account = clinic.load_text("März '25/l'été, n°1.csv", CASES)
    assert account.name == "März '25/l'été, n°1.csv"
    broken = clinic.load_text("O'Brien's casés.csv", CASES.replace("A1", "B'1").replace("12.5", "it's heavy"))
    assert counts(broken) == (2, 0, 1, 0, 1, 0)
    assert clinic.ask("SELECT name, case_id, value FROM quarantine") == [("O'Brien's casés.csv", "B'1", "it's heavy")]


def test_a_clinic_in_a_folder_with_spaces_accents_and_apostrophes(tmp_path):
    from clinic_folder import Clinic

    from pipeline import database

    folder = tmp_path / "Klinik für Kleintiere, l'hôpital O'Neill"
    folder.mkdir()
    with database.connect(folder / database.FILE) as db:
        clinic = Clinic(folder, db)
        assert counts(clinic.load_text("cases.csv", CASES.replace("12.5", "heavy"))) == (2, 1, 0, 0, 1, 0)
        assert (folder / "to_fix" / "cases_to_fix.csv").is_file()


# Letters of every kind a cell may hold; the line breaks are the two a spreadsheet writes inside a cell.
CELL = st.text(
    st.one_of(
        st.sampled_from(list(",;\t|\"'\n =+-@#.éßµ“”\u00a0\u200bΑя漢🐕0159")),
        st.characters(codec="utf-8", exclude_characters="\r\x00\ufeff", exclude_categories=("Cs", "Cn")),
    ),
    max_size=12,
).filter(lambda text: text.count("\n") <= 1)
ROWS = st.integers(2, 5).flatmap(lambda width: st.lists(st.lists(CELL, min_size=width, max_size=width), max_size=8))


def written(rows, separator, quoting, ends) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator, quoting=quoting, lineterminator=ends).writerows(rows)
    return text.getvalue()


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=ROWS,
    separator=st.sampled_from(list(SEPARATORS)),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    ends=st.sampled_from(["\n", "\r\n"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_any_table_of_cells_comes_back_cell_for_cell(tmp_path, rows, separator, quoting, ends, encoding):
    width = len(rows[0]) if rows else 1
    names = ["case_id", "species", "breed", "sex", "procedure"][:width]
    path = tmp_path / "cases.csv"
    path.write_bytes(written([names, *rows], separator, quoting, ends).encode(encoding))
    _, grid = text_files.read(path)
    got = [grid.cells.column(name).to_pylist() for name in names]
    want = [[(cell or None) for cell in row] for row in rows]
    assert [list(row) for row in zip(*got, strict=True)] == want
    assert grid.rejected == []
    breaks = [sum(cell.count("\n") for cell in row) for row in rows]
    lines = [2 + at + sum(breaks[:at]) for at in range(len(rows))]
    assert grid.rows.to_pylist() == lines
    assert len(grid.set_aside) == sum(breaks)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.lists(CELL.map(lambda text: text.replace("\n", " ")), min_size=3, max_size=3), max_size=8))
def test_the_fast_and_the_exact_way_cut_alike(tmp_path, rows):
    path = tmp_path / "cases.csv"
    path.write_bytes(written([["case_id", "species", "breed"], *rows], ",", csv.QUOTE_MINIMAL, "\n").encode())
    decoded = decode(path)
    found = text_files.layout(decoded.head(), path)
    fast = text_files.cut(decoded, found, [0, 1, 2], {})
    exact = text_files.Cut(*exact_lines.cut(decoded, ",", found.line, 3, [0, 1, 2]))
    assert fast.cells.to_pydict() == exact.cells.to_pydict()
    assert fast.rows == exact.rows


NUMBERISH = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False, width=32).map(repr),
    st.sampled_from(
        ["", "5", "-1", "0", "999", "4,5", "1,234", "nan", "inf", "x", "98%", "1e400", "+3", ".5", "5.", "- "]
    ),
)
TIMEISH = st.sampled_from(
    ["2025-03-06 08:15", "2025-03-06T08:15:30", "2025-03-06", "2025-03-06 00:00", "2025-03-06 08:15:30.25", "",
     "2025-03-06 08:15Z", "2025-02-30 08:15", "6.3.2025 8:15", "2025-10-26 02:30", "soon", "1925-01-01 08:00"]
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=st.lists(
        st.tuples(
            st.sampled_from(["A1", "A2", "a 3", ""]), TIMEISH, st.sampled_from(["heart_rate", "spo2", "?"]), NUMBERISH
        ),
        max_size=24,
    )
)
def test_a_large_file_is_typed_like_a_small_one(tmp_path, rows):
    import duckdb

    from pipeline.errors import RefusedFile
    from pipeline.intake.cells import type_grid

    path = tmp_path / "vitals.csv"
    path.write_text(
        written([["case_id", "taken_at", "parameter", "value"], *rows], ";", csv.QUOTE_MINIMAL, "\n"), encoding="utf-8"
    )
    answers = []
    for size in (1 << 40, 0):
        text_files.PLAIN_FROM, before = size, text_files.PLAIN_FROM
        cutting.BLOCK, block = 100 if size == 0 else cutting.BLOCK, cutting.BLOCK
        try:
            _, grid = text_files.read(path)
            with duckdb.connect() as db:
                typed = type_grid(db, "vitals", grid, "Europe/Berlin", None)
            answers.append(
                {name: values.to_pylist() for name, values in typed.values.items()}
                | {f"{name}_s": values.to_pylist() for name, values in typed.clocks.items()}
                | {"findings": sorted((f.rule, f.kind, f.column, f.positions.tolist()) for f in typed.findings)}
                | {"texts": grid.texts(pa.array(range(len(rows)), pa.int64())).to_pylist()}
            )
        except RefusedFile as fault:
            answers.append(str(fault))
        finally:
            text_files.PLAIN_FROM, cutting.BLOCK = before, block
    assert answers[0] == answers[1]


@pytest.mark.parametrize("expected", [1, 1000, 100_000])
def test_columns_of_a_large_file_hold_what_was_put_in(expected):
    blocks = [[f"C{n}" for n in range(start, start + 9000)] + [None, "C1"] for start in range(0, 45_000, 9000)]
    words, numbers = growing.Growing("word", expected), growing.Growing("number", expected)
    times = growing.Growing("time", expected)
    for block in blocks:
        words.add(pa.chunked_array([pa.array(block).dictionary_encode()]))
        values = [None if word is None else float(word[1:]) for word in block]
        numbers.add(pa.chunked_array([pa.array(values)]))
        times.add(pa.chunked_array([pa.array(values).cast(pa.int64()).cast(pa.timestamp("us"))]))
    whole = [word for block in blocks for word in block]
    done = words.done()
    assert done.to_pylist() == whole
    assert len(done.dictionary) == 45_000
    assert numbers.done().to_pylist() == [None if word is None else float(word[1:]) for word in whole]
    assert times.done().cast(pa.int64()).to_pylist() == [None if word is None else int(word[1:]) for word in whole]


def test_lines_of_runs():
    runs = [(2, 3), np.array([6, 8]), (9, 1)]
    assert growing.lines_of(runs).to_pylist() == [2, 3, 4, 6, 8, 9]
