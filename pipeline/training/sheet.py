"""What is signed: the rows of a trainee's log in one period, and a code that says whether they still say the same.

Beside each printed sheet stands a file of the same name with the rows it covers. Its code is the SHA-256 of those
rows, cut to 20 hexadecimal digits for paper. The code shows that rows have not changed; it is no signature.
"""

import hashlib
import json
import re
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

from pipeline.errors import SettingsFault

CODE_SAID = "Code of these rows:"
FORM = 1  # changes when COLUMNS or their spelling do; a sheet is read by the form it was printed in
COLUMNS = (
    "case_id", "date", "species", "asa", "procedure_group", "procedure", "role", "minutes", "supervised_by",
    "techniques",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sheet:
    """trainee: person code; period: '2026-03', '2026-Q1' or '2026'; rows: texts in the order of COLUMNS."""

    trainee: str
    period: str
    first_day: date
    last_day: date
    rows: list[tuple[str, ...]]

    @property
    def digest(self) -> str:
        """SHA-256 of form, trainee, days and rows, in hexadecimal."""
        head = [FORM, self.trainee, self.first_day.isoformat(), self.last_day.isoformat()]
        text = json.dumps([head, *map(list, self.rows)], ensure_ascii=False, separators=(",", ":"))
        return hashlib.sha256(text.encode("utf-8")).hexdigest()

    @property
    def code(self) -> str:
        return printed(self.digest)

    @property
    def stem(self) -> str:
        """The last part of the file name: a sheet whose rows differ is another file, and none is overwritten."""
        return f"{self.period}_{self.digest[:8]}"


def printed(digest: str) -> str:
    """The code as it stands on paper.

    >>> printed("0123456789abcdef0123456789abcdef")
    '0123-4567-89AB-CDEF-0123'
    """
    return "-".join(digest[i : i + 4] for i in range(0, 20, 4)).upper()


def periods(first: date, last: date, kind: str) -> list[tuple[str, date, date]]:
    """The whole months, quarters or years that ended on or before last, from the one that holds first.

    >>> periods(date(2025, 2, 10), date(2025, 7, 1), "quarter")
    [('2025-Q1', datetime.date(2025, 1, 1), datetime.date(2025, 3, 31)), \
('2025-Q2', datetime.date(2025, 4, 1), datetime.date(2025, 6, 30))]
    """
    months = {"month": 1, "quarter": 3, "year": 12}[kind]
    number = (first.year * 12 + first.month - 1) // months * months
    found = []
    while True:
        begins, ends = _month(number), _month(number + months) - timedelta(days=1)
        if ends > last:
            return found
        name = {1: f"{begins:%Y-%m}", 3: f"{begins.year}-Q{begins.month // 3 + 1}", 12: f"{begins.year}"}[months]
        found.append((name, begins, ends))
        number += months


def _month(number: int) -> date:
    return date(number // 12, number % 12 + 1, 1)


def make(trainee: str, period: str, first: date, last: date, logged: list[dict]) -> Sheet:
    """The sheet of a period, from a trainee's rows of the log (log.rows)."""
    within = [as_text(row) for row in logged if first <= row["start_day"] <= last]
    return Sheet(trainee, period, first, last, sorted(within, key=lambda row: (row[1], row[0], row[6])))


def as_text(row: dict) -> tuple[str, ...]:
    """A row of the log as the sheet writes it; unknown is '', minutes have one decimal, half up."""
    minutes = row["minutes"]
    return (
        row["case_id"],
        row["start_day"].isoformat(),
        row["species"] or "",
        ("" if row["asa_class"] is None else str(row["asa_class"])) + ("E" if row["emergency"] else ""),
        row["procedure_group"] or "",
        row["procedure"] or "",
        row["role"] or "",
        "" if minutes is None else str(Decimal(repr(minutes)).quantize(Decimal("0.1"), ROUND_HALF_UP)),
        "; ".join(row["supervisors"]),
        "; ".join(sorted(row["technique"])),
    )


def stored(sheet: Sheet) -> str:
    """The file beside the sheet."""
    return json.dumps(
        {
            "form": FORM,
            "trainee": sheet.trainee,
            "period": sheet.period,
            "first_day": sheet.first_day.isoformat(),
            "last_day": sheet.last_day.isoformat(),
            "sha256": sheet.digest,
            "columns": list(COLUMNS),
            "rows": [list(row) for row in sheet.rows],
        },
        ensure_ascii=False,
        indent=1,
    )


def read(path: Path) -> tuple[Sheet, str]:
    """A stored sheet and the SHA-256 written in it. path: the sheet or the file beside it.

    Raises SettingsFault where there is none, or where it is not one of ours.
    """
    beside = path.with_suffix(".json")
    wanted = "a sheet that `rounds report training` wrote, with its .json file beside it"
    try:
        given = json.loads(beside.read_text(encoding="utf-8"))
        sheet = Sheet(
            given["trainee"],
            given["period"],
            date.fromisoformat(given["first_day"]),
            date.fromisoformat(given["last_day"]),
            [tuple(map(str, row)) for row in given["rows"]],
        )
        form, digest = given["form"], str(given["sha256"])
    except FileNotFoundError as cause:
        raise SettingsFault(beside.name, "no such file", wanted, "give the path of the sheet's .html file") from cause
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as cause:
        raise SettingsFault(
            beside.name, "a file that is not a stored sheet", wanted, "take it from a copy of the reports folder"
        ) from cause
    if form != FORM or any(len(row) != len(COLUMNS) for row in sheet.rows):
        raise SettingsFault(
            beside.name, f"form {form} of a sheet", f"form {FORM}", "check it with the version that printed it"
        )
    return sheet, digest


def printed_code(path: Path) -> str | None:
    """The code that stands on the page beside a stored sheet; None where there is no page."""
    try:
        page = path.with_suffix(".html").read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None
    found = re.search(re.escape(CODE_SAID) + r" ([0-9A-F-]{24})", page)
    return found.group(1) if found else None
