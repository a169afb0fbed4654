"""What stands on the pages, and whose. The clinic of conftest.invented_rows; its numbers mean nothing."""

import csv
import json
import re
from html.parser import HTMLParser

import pytest

from pipeline import database
from pipeline.reporting.display import words
from pipeline.schema import EVENTS
from pipeline.training import log
from pipeline.training.view import file_name

TRAINEES = ("ash", "elm", "T.01/<b>")
SUPERVISORS = ("oak", "yew")
SAFE_NAMES = {"ash": "log_ash", "elm": "log_elm", "T.01/<b>": file_name("T.01/<b>")}


class Tables(HTMLParser):
    """The cells of every table on a page, by the table's id; text outside tables is kept too."""

    def __init__(self, page: str):
        super().__init__()
        self.rows: dict[str, list[list[str]]] = {}
        self.text: list[str] = []
        self.at, self.cell, self.skip = None, None, False
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        self.skip = tag in ("script", "style")
        if tag == "div" and "table" in (given.get("class") or "").split():
            self.at = given["id"]
            self.rows[self.at] = []
        elif tag == "tr" and self.at:
            self.rows[self.at].append([])
        elif tag in ("td", "th") and self.at:
            self.cell = []

    def handle_endtag(self, tag):
        self.skip = False
        if tag in ("td", "th") and self.cell is not None:
            self.rows[self.at][-1].append("".join(self.cell))
            self.cell = None

    def handle_data(self, data):
        if not self.skip:
            self.text.append(data)
            if self.cell is not None:
                self.cell.append(data)

    def body(self, table: str) -> list[list[str]]:
        return self.rows[table][1:]


def page_of(clinic, name: str) -> Tables:
    return Tables((clinic / "reports" / f"{name}.html").read_text(encoding="utf-8"))


def opened(clinic):
    return database.connect(clinic / database.FILE, read_only=True)


def everything(clinic, folder: str = "reports") -> dict[str, str]:
    """Text of every file written, XLSX unpacked; by path inside the folder."""
    import zipfile

    found = {}
    for path in (clinic / folder).rglob("*"):
        if path.suffix == ".xlsx":
            with zipfile.ZipFile(path) as packed:
                texts = [packed.read(name).decode("utf-8") for name in packed.namelist() if name.endswith(".xml")]
            found[str(path.relative_to(clinic / folder))] = "\n".join(texts)
        elif path.is_file():
            found[str(path.relative_to(clinic / folder))] = path.read_text(encoding="utf-8")
    return found


def named(person: str) -> re.Pattern:
    """A person's code as a word of its own, plain or escaped."""
    escaped = person.replace("<", "&lt;").replace(">", "&gt;")
    return re.compile(rf"(?<!\w)({re.escape(person)}|{re.escape(escaped)})(?!\w)")


def without_script(text: str) -> str:
    """A page without plotly's own code, in which any short word may occur."""
    return re.sub(r"<script>.*?</script>", "", text, flags=re.DOTALL)


def test_roles_on_the_page_are_the_counts_of_the_table(invented_clinic):
    with opened(invented_clinic) as db:
        found = db.execute(
            """SELECT role, count(*), sum(minutes) / 60 FROM trainee_log
               WHERE person = 'ash' AND counted = 1 GROUP BY role"""
        ).fetchall()
    shown = {row[0]: (int(row[1]), row[2]) for row in page_of(invented_clinic, "training/log_ash").body("by-role")}
    assert shown == {role: (cases, f"{hours:.1f}") for role, cases, hours in found}


def test_the_log_as_csv_has_every_row_of_the_log(invented_clinic):
    for person in TRAINEES:
        with opened(invented_clinic) as db:
            expected = db.execute(
                "SELECT case_id, role FROM trainee_log WHERE person = ? ORDER BY ALL", [person]
            ).fetchall()
        path = invented_clinic / "reports" / "training" / "tables" / f"{SAFE_NAMES[person]}_log-table.csv"
        with path.open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines))
        assert sorted((row["case"], row["role"]) for row in rows) == expected


def test_targets_show_done_missing_and_pace(invented_clinic):
    with opened(invented_clinic) as db:
        standing = {one["target"]: one for one in log.select(db, "SELECT * FROM trainee_targets WHERE person = 'ash'")}
    rows = {row[0]: row for row in page_of(invented_clinic, "training/log_ash").body("targets-table")}
    assert rows["Sick as primary"][1] == "cases: ASA 3, 4 or 5; as primary; year 1"
    assert int(rows["Sick as primary"][3]) + int(rows["Sick as primary"][4]) == 400
    assert rows["Sick as primary"][5] == "faster pace needed"
    assert rows["Sick as primary"][7] == f"{standing['Sick as primary']['pace_needed']:.1f}"
    assert rows["Hours"][1].startswith("hours: ") and rows["Hours"][2] == "60"


def test_a_page_says_that_the_training_body_decides(invented_clinic):
    for name in ("training", "training/log_ash"):
        assert "decided by the training body's own rules" in " ".join(page_of(invented_clinic, name).text)


def test_a_trainees_files_name_no_other_trainee_but_their_supervisor(invented_clinic):
    files = everything(invented_clinic)
    for person, stem in SAFE_NAMES.items():
        own = {name: without_script(text) for name, text in files.items()
               if re.search(rf"(^|/){re.escape(stem)}[._]", name)}  # fmt: skip
        assert len(own) > 5
        for other in TRAINEES:
            # elm supervised some of ash's cases, and is named there as the supervisor
            if other in (person, "elm" if person == "ash" else person):
                continue
            for name, text in own.items():
                assert not named(other).search(text), (name, other)


def test_no_file_holds_a_patient(invented_clinic):
    for name, text in everything(invented_clinic).items():
        assert "animal-" not in text, name


def test_a_shared_copy_holds_no_case_and_no_code_but_the_pages_own(invented_clinic):
    shared = everything(invented_clinic, "reports/shared")
    assert {name for name in shared if name.endswith(".html")} == {
        "training.html",
        *(f"training/{stem}.html" for stem in SAFE_NAMES.values()),
    }
    for name, text in shared.items():
        text = without_script(text)
        assert not re.search(r"K\d{4}", text), name
        for code in (*TRAINEES, *SUPERVISORS, "nurse"):
            if SAFE_NAMES.get(code) and SAFE_NAMES[code] in name:
                continue
            assert not named(code).search(text), (name, code)


def test_a_shared_copy_shows_no_count_below_5(invented_clinic):
    shared = invented_clinic / "reports" / "shared"
    counts = 0
    for path in shared.rglob("*.html"):
        cells = re.findall(r'<td class="count"[^>]*>([^<]*)</td>', path.read_text(encoding="utf-8"))
        numbers = [int(shown.replace(",", "")) for shown in cells if re.fullmatch(r"[\d,]+", shown)]
        counts += len(numbers)
        assert min(numbers, default=5) >= 5, path.name
    assert counts > 20


def test_one_withheld_count_is_never_alone_in_its_column():
    from pipeline.training.view import HIDDEN, View

    view = View(*[None] * 6, share=True)
    assert view.counts([20, 3, 9, 40]) == [20, HIDDEN, HIDDEN, 40]
    assert view.counts([2, 3, 9, 40]) == [HIDDEN, HIDDEN, 9, 40]
    assert view.counts([20, 9]) == [20, 9]


def test_the_programme_ranks_nobody_and_gives_no_complications(invented_clinic):
    page = page_of(invented_clinic, "training")
    assert [row[0] for row in page.body("people-table")] == ["ash", "elm"]
    assert [row[1] for row in page.body("missing-table") if row[0] == "Sick as primary"] == ["ash"]
    cells = {cell for rows in page.rows.values() for row in rows for cell in row}
    assert not cells & {words(event) for event in EVENTS if event != "other"}


def test_somebody_not_listed_has_a_log_without_targets(invented_clinic):
    page = page_of(invented_clinic, f"training/{SAFE_NAMES['T.01/<b>']}")
    assert "targets-table" not in page.rows
    assert "not under [programme.trainees]" in " ".join(page.text)
    assert page.body("by-role")


def test_a_learning_curve_stands_only_on_the_page_of_who_asked(invented_clinic):
    asked = page_of(invented_clinic, "training/log_ash")
    assert asked.body("curve-1-table")
    assert "Two curves are no comparison of two people" in " ".join(asked.text)
    assert "curve-1-table" not in page_of(invented_clinic, "training/log_elm").rows


def test_a_sheet_says_who_when_what_and_its_code(invented_clinic):
    for path in (invented_clinic / "reports" / "training" / "sheets").glob("*.html"):
        stored = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        page = Tables(path.read_text(encoding="utf-8"))
        assert [row[0] for row in page.body("rows")] == [row[0] for row in stored["rows"]]
        supervisors = sorted({one for row in stored["rows"] for one in row[8].split("; ") if one})
        signers = ["trainee", *(f"supervisor {one}" for one in supervisors), "head of the programme"]
        assert [row[0] for row in page.body("signing")] == signers
        assert stored["sha256"] in "".join(page.text).replace(" ", "")


@pytest.mark.parametrize("name", ["training", "training/log_ash", f"training/{SAFE_NAMES['T.01/<b>']}"])
def test_text_of_the_record_stays_text(invented_clinic, name):
    page = (invented_clinic / "reports" / f"{name}.html").read_text(encoding="utf-8")
    assert "<img" not in without_script(page)
