"""Faults of files and layouts, F1 to F21."""

import io
from pathlib import Path

import pytest
import xlsxwriter
from clean_month import text_of
from fault_list import fault

MAPPING = """
schema = 1
[[file]]
name = "log"
files = ["log*"]
table = "cases"
[file.columns]
"Case" = "case_id"
"Animal" = "species"
"Weight" = "weight_kg"
"Induced" = "induction_at"
"""


def log(month, header: str = "Case;Animal;Weight;Induced", rows=None) -> str:
    """The month's cases under names of a clinic's own."""
    lines = [
        f"{row['case_id']};{row['species']};{row['weight_kg']};{row['induction_at']}" for row in (rows or month.cases)
    ]
    return "\n".join([header, *lines]) + "\n"


def book(sheets: dict[str, list[list]], **options) -> bytes:
    """A workbook of sheets given as rows; None is an empty cell, a text beginning with '=' a formula."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, options) as workbook:
        for name, rows in sheets.items():
            sheet = workbook.add_worksheet(name)
            for number, row in enumerate(rows):
                sheet.write_row(number, 0, row)
    return out.getvalue()


@fault("F1", "A", "Latin-1 or cp1252 instead of UTF-8")
def latin(bench):
    month = bench.month
    month.case("C05")["breed"] = "Épagneul “ok”"
    month.dose("C06", "methadone")["amount_unit"] = "µg/kg"
    files = month.files() | {
        name: text_of(getattr(month, name.removesuffix(".csv"))).encode("cp1252") for name in ("cases.csv", "drugs.csv")
    }
    loaded = bench.load(files)
    assert loaded.account("cases.csv").encoding == "cp1252"
    assert loaded.cell("breed", "C05") == "Épagneul “ok”"
    assert ("methadone", "mcg/kg") in loaded.ask("SELECT drug, amount_unit FROM drugs WHERE case_id = 'C06'")
    assert loaded.quarantined() == []
    bench.others_unchanged(loaded, "C05", "C06")


@fault("F2", "A", "byte-order mark, odd spaces and zero-width signs in headers")
def unseen(bench):
    files = bench.month.files()
    text = files["cases.csv"].decode()
    files["cases.csv"] = (
        "\ufeff" + text.replace("case_id", "Case\u00a0ID", 1).replace("species", "spe\u200bcies", 1)
    ).encode()
    loaded = bench.load(files)
    assert loaded.account("cases.csv").new == 30
    assert loaded.cell("species", "C01") == "dog"
    bench.others_unchanged(loaded)


@fault("F3", "A", "semicolon, tab or pipe between cells")
def separators(bench):
    for separator, word in ((";", "semicolon"), ("\t", "tab"), ("|", "pipe")):
        loaded = bench.load(bench.month.files() | {"cases.csv": text_of(bench.month.cases, separator).encode()})
        assert loaded.account("cases.csv").separator == word
        bench.others_unchanged(loaded)


@fault("F4", "A", "mixed line ends, none at the end, or old ones")
def line_ends(bench):
    lines = text_of(bench.month.cases).splitlines()
    mixed = "".join(line + ("\r\n" if number % 2 else "\n") for number, line in enumerate(lines)).rstrip("\r\n")
    for text in (mixed, "\r".join(lines)):
        loaded = bench.load(bench.month.files() | {"cases.csv": text.encode()})
        assert loaded.account("cases.csv").new == 30
        bench.others_unchanged(loaded)


@fault("F5", "Q", "line break or separator in a note, a quote never closed")
def quotes(bench):
    bench.month.case("C04")["procedure"] = "quiet,\nthen restless"
    text = text_of(bench.month.cases)
    text = text.replace("C07,", '"C07,', 1)
    loaded = bench.load(bench.month.files() | {"cases.csv": text.encode()})
    account = loaded.account("cases.csv")
    assert (account.new, account.quarantined) == (29, 1)
    assert loaded.cell("procedure", "C04") == "quiet,\nthen restless"
    bench.others_unchanged(loaded, "C04", "C07")


@fault("F6", "A", "title, print date and filters above the table")
def titles(bench):
    files = bench.month.files()
    files["cases.csv"] = b"Report: anesthesia 03/2026\nprinted 2026-04-01\n\n" + files["cases.csv"]
    loaded = bench.load(files)
    account = loaded.account("cases.csv")
    assert (account.new, account.set_aside, account.lines) == (30, 3, 33)
    bench.others_unchanged(loaded)


@fault("F7", "N", "totals, subtotals, page lines, signature")
def totals(bench):
    files = bench.month.files()
    width = len(bench.month.drugs[0]) - 1
    more = [
        "Total" + "," * width,
        "Page 1 of 2" + "," * width,
        ",,,,126," + "," * (width - 5),
        "Signature" + "," * width,
    ]
    files["drugs.csv"] += ("\n".join(more) + "\n").encode()
    loaded = bench.load(files)
    account = loaded.account("drugs.csv")
    assert (account.new, account.set_aside, account.quarantined) == (60, 4, 0)
    assert loaded.notes("N")["totals_line"] == 4
    bench.others_unchanged(loaded)


@fault("F8", "A", "header repeated on each page")
def repeated(bench):
    lines = text_of(bench.month.cases).splitlines()
    text = "\n".join([*lines[:11], lines[0], *lines[11:]]) + "\n"
    loaded = bench.load(bench.month.files() | {"cases.csv": text.encode()})
    account = loaded.account("cases.csv")
    assert (account.new, account.set_aside, account.quarantined) == (30, 1, 0)
    bench.others_unchanged(loaded)


@fault("F9", "A", "line of units under the header")
def units_line(bench):
    for row in bench.month.cases:
        row["weight_kg"] = {"12.4": "27.3373", "4.2": "9.2594"}[row["weight_kg"]]
    text = log(bench.month).replace("Induced\n", "Induced\n;;lb;\n", 1)
    loaded = bench.load({"log.csv": text}, MAPPING)
    assert loaded.account("log.csv").set_aside == 1
    assert loaded.notes("A")["unit_converted"] == 30
    assert {loaded.cell("weight_kg", case) for case in ("C01", "C03")} == {12.4}
    assert loaded.cell("weight_kg", "C02") == 4.2


@fault("F10", "A", "bilingual or foreign header; a name nobody knows is listed")
def foreign(bench):
    header = "N° de cas;Espèce / Species;Gewicht / Weight (kg);Heure d'induction;Couleur"
    text = log(bench.month, header).replace(
        "\nC01;dog;12.4;2026-03-01 08:05:00\n", "\nC01;chien;12.4;2026-03-01 08:05:00;brun\n"
    )
    text = "\n".join(line + ("" if line.count(";") == 4 else ";") for line in text.splitlines()) + "\n"
    drafted = bench.draft({"journal.csv": text})
    assert 'Couleur" = "-"' in drafted
    loaded = bench.load({"journal.csv": text}, drafted)
    assert (loaded.account("journal.csv").new, loaded.cell("species", "C01")) == (30, "dog")
    assert loaded.cell("weight_kg", "C02") == 4.2


@fault("F11", "N", "names on two lines, or merged")
def two_lines(bench):
    lines = [";;Vitals;", "Case no;Time;HR;SpO2"]
    lines += [f"C01;2026-03-01 08:{minute};{rate};98" for minute, rate in (("10", 92), ("15", 94))]
    drafted = bench.draft({"monitor.csv": "\n".join(lines) + "\n"})
    assert '"Vitals > HR" = "heart_rate"' in drafted
    loaded = bench.load(
        bench.month.files() | {"vitals.csv": text_of(bench.month.vitals[70:]), "monitor.csv": "\n".join(lines) + "\n"},
        drafted,
    )
    assert loaded.notes("N")["two_row_header"] == 1
    assert loaded.value("C01", "heart_rate", 2) == 94
    bench.others_unchanged(loaded, "C01")


@fault("F12", "N / Q", "id only in the first of several rows")
def blank_below(bench):
    rows = [
        ["Case", "Animal", "Weight", "Induced"],
        ["C01", "dog", 12.4, "2026-03-01 08:05"],
        [None, "cat", 4.2, "2026-03-01 09:05"],
    ]
    loaded = bench.load({"log.xlsx": book({"Log": rows})}, MAPPING)
    assert (loaded.account("log.xlsx").new, loaded.account("log.xlsx").quarantined) == (1, 1)
    merged = io.BytesIO()
    with xlsxwriter.Workbook(merged) as workbook:
        sheet = workbook.add_worksheet("Vitals")
        sheet.write_row(0, 0, ["Case no", "Time", "HR"])
        sheet.merge_range(1, 0, 2, 0, "C01")
        sheet.write_row(1, 1, ["2026-03-01 08:10", 92])
        sheet.write_row(2, 1, ["2026-03-01 08:15", 94])
    mapping = bench.draft({"vitals.xlsx": merged.getvalue()})
    loaded = bench.load({"cases.csv": bench.month.files()["cases.csv"], "vitals.xlsx": merged.getvalue()}, mapping)
    assert loaded.notes("N")["filled_down"] == 1
    assert loaded.value("C01", "heart_rate", 2) == 94
    asked = MAPPING + '"Seen" = "site"\n[file.constants]\nsite = "north"\n'
    asked = asked.replace('table = "cases"', 'table = "cases"\nfill_down = ["Induced"]').replace(
        '"Seen" = "site"\n', ""
    )
    loaded = bench.load({"log.csv": "Case;Animal;Weight;Induced\nC01;dog;12.4;2026-03-01 08:05\nC02;cat;4.2;\n"}, asked)
    assert loaded.cell("induction_at", "C02") == loaded.cell("induction_at", "C01")


@fault("F13", "S / N", "one header twice")
def twice(bench):
    equal = "case_id,taken_at,temperature,temperature\nC01,2026-03-01 08:10,37.1,37.1\n"
    loaded = bench.load(bench.month.files() | {"vitals.csv": equal})
    assert loaded.value("C01", "temperature") == 37.1
    other = "case_id,taken_at,temperature,temperature\nC01,2026-03-01 08:10,37.1,38.0\n"
    refused = bench.load(bench.month.files() | {"vitals.csv": other}).receipt.refused
    assert len(refused) == 1 and "temperature" in str(refused[0])


@fault("F14", "A / S", "columns moved, added or gone")
def moved(bench):
    rows = [{"depth": "40", **{name: row[name] for name in reversed(row)}} for row in bench.month.cases]
    loaded = bench.load(bench.month.files() | {"cases.csv": text_of(rows)})
    assert loaded.account("cases.csv").new == 30
    assert any("depth" in note.sentence for note in loaded.account("cases.csv").notes)
    bench.others_unchanged(loaded)
    without = [{name: cell for name, cell in row.items() if name != "taken_at"} for row in bench.month.vitals]
    refused = bench.load(bench.month.files() | {"vitals.csv": text_of(without)}).receipt.refused
    assert len(refused) == 1 and "taken_at" in str(refused[0]) and "parameter" in str(refused[0])


@fault("F15", "A", "blank rows, trailing separators")
def blanks(bench):
    lines = text_of(bench.month.cases).splitlines()
    text = "\n".join(
        [*(line + ",," for line in lines[:10]), "," * lines[0].count(",") + ",,", *(line + ",," for line in lines[10:])]
    )
    loaded = bench.load(bench.month.files() | {"cases.csv": text})
    account = loaded.account("cases.csv")
    assert (account.new, account.set_aside) == (30, 1)
    bench.others_unchanged(loaded)


@fault("F16", "N", "several sheets, hidden sheets and rows, filters")
def sheets(bench):
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as workbook:
        for name in ("cases", "Sheet2 (old)", "hidden"):
            sheet = workbook.add_worksheet(name)
            rows = bench.month.cases if name == "cases" else [{"x": "1"}]
            sheet.write_row(0, 0, list(rows[0]))
            for number, row in enumerate(rows, 1):
                sheet.write_row(number, 0, list(row.values()))
            if name == "cases":
                sheet.set_row(4, None, None, {"hidden": True})
            if name == "hidden":
                sheet.hide()
    loaded = bench.load(bench.without("cases.csv") | {"cases.xlsx": out.getvalue()})
    assert loaded.account("cases.xlsx").new == 30
    assert loaded.notes("N") == {"sheet_not_read": 2, "hidden_rows": 1}
    bench.others_unchanged(loaded)


@fault("F17", "S", "an ending that is not what the file is")
def endings(bench):
    files = {
        "cases.csv": book({"cases": [["case_id"], ["C01"]]}),
        "log.xls": b"<html><table><tr><td>case_id</td></tr></table></html>",
    }
    loaded = bench.load(files)
    said = [str(fault) for fault in loaded.receipt.refused]
    assert len(said) == 2 and "workbook" in said[0] and "web page" in said[1]
    assert loaded.ask("SELECT count(*) FROM cases") == [(0,)]


@fault("F18", "Q / W / S", "cut file, header alone, empty file")
def cut(bench):
    files = bench.month.files()
    loaded = bench.load(files | {"cases.csv": files["cases.csv"][:-100]})
    assert (loaded.account("cases.csv").new, loaded.account("cases.csv").quarantined) == (29, 1)
    bench.others_unchanged(loaded, "C30")
    loaded = bench.load({"cases.csv": b"case_id,species\n"})
    assert loaded.notes("W") == {"no_rows": 1} or "W" in {note.kind for note in loaded.account("cases.csv").notes}
    assert len(bench.load({"cases.csv": b""}).receipt.refused) == 1


@fault("F19", "W", "spreadsheet errors, formulas without a result")
def errors(bench):
    bench.month.case("C05")["weight_kg"] = "#DIV/0!"
    bench.month.case("C06")["weight_kg"] = "=B2*1.7"
    loaded = bench.load()
    assert [loaded.cell("weight_kg", case) for case in ("C05", "C06")] == [None, None]
    assert loaded.account("cases.csv").new == 30
    assert loaded.notes("W")["spreadsheet_error"] == 2
    bench.others_unchanged(loaded, "C05", "C06")
    from openpyxl import Workbook

    workbook, out = Workbook(), io.BytesIO()
    workbook.active.append(["case_id", "species", "weight_kg"])
    workbook.active.append(["C05", "dog", "=1/0"])
    workbook.save(out)
    loaded = bench.load({"cases.xlsx": out.getvalue()})
    assert loaded.cell("weight_kg", "C05") is None
    assert loaded.notes("W")["spreadsheet_error"] == 1


@fault("F20", "A", "text that looks like a formula")
def formulas(bench):
    bench.month.case("C05")["procedure"] = '=HYPERLINK("http://example.org")'
    bench.month.case("C05")["weight_kg"] = "heavy"
    loaded = bench.load()
    (sheet,) = (loaded.folder / "to_fix").glob("*.csv")
    text = sheet.read_text(encoding="utf-8-sig")
    assert "'=HYPERLINK" in text.replace('""', '"')
    bench.others_unchanged(loaded, "C05")
    bench.month.case("C05")["weight_kg"] = "12.4"
    assert bench.load().cell("procedure", "C05") == '=HYPERLINK("http://example.org")'


@fault("F21", "S", "file open in another program")
def locked(bench):
    opened = Path.open

    def refuse(self, *more, **named):
        mode = named.get("mode", more[0] if more else "r")
        if self.name == "cases.csv" and "exports" in self.parts and "r" in mode:
            raise PermissionError(13, "Permission denied")
        return opened(self, *more, **named)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "open", refuse)
        loaded = bench.load(bench.without("vitals.csv", "drugs.csv", "events.csv"))
    assert len(loaded.receipt.refused) == 1 and "close it" in str(loaded.receipt.refused[0])
    assert loaded.ask("SELECT count(*) FROM cases") == [(0,)]
