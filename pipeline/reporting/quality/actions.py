"""Actions carried from the last meeting: actions.csv in the clinic folder."""

import csv
from datetime import date
from pathlib import Path

from pipeline.reporting.display import month_number
from pipeline.reporting.frame import Column, Section, Table
from pipeline.reporting.review import Review

FILE = "actions.csv"
COLUMNS = ("action", "who", "due", "state")
DONE = ("done", "closed")


def section(review: Review) -> Section | None:
    """None in a page for sharing: actions name people."""
    if review.share:
        return None
    items = listed(review.clinic / FILE, review)
    return Section("actions", "Actions", "What did we decide last time, and is it done?", items)


def listed(path: Path, review: Review) -> list:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return [f"No {FILE} in the clinic folder. Make one with the columns {', '.join(COLUMNS)} (due as 2026-11-30), "
                "and this section carries it from meeting to meeting."]  # fmt: skip
    except UnicodeDecodeError:
        return [f"{FILE} is not UTF-8 text, so it was not read. Save it as CSV UTF-8."]
    first = text.partition("\n")[0]
    separator = max(",;\t", key=first.count)
    rows = [
        {(name or "").strip().lower(): (value or "").strip() for name, value in row.items() if isinstance(value, str)}
        for row in csv.DictReader(text.splitlines(), delimiter=separator)
    ]
    rows = [row for row in rows if any(row.values())]
    if not rows or "action" not in rows[0]:
        return [
            f"{FILE} has no column called action, so it was not read. Its first line must name {', '.join(COLUMNS)}."
        ]
    rows.sort(key=lambda row: (row.get("state", "").lower() in DONE, row.get("due") or "9999"))
    return [
        Table(
            "actions-table",
            finding(rows, review),
            [Column("Action"), Column("Who"), Column("Due", "day"), Column("State")],
            [[row["action"], row.get("who"), day(row.get("due")), row.get("state")] for row in rows],
        )
    ]


def finding(rows: list[dict], review: Review) -> str:
    """How many are open, and overdue at the end of the month under review."""
    still = [row for row in rows if row.get("state", "").lower() not in DONE]
    after = month_number(review.results.month) + 1
    end = date(after // 12, after % 12 + 1, 1)
    late = [row for row in still if isinstance(day(row.get("due")), date) and day(row["due"]) < end]
    out = f"{len(still)} of {len(rows)} actions are open"
    return out + (f", {len(late)} of them due by the end of {review.month}" if late else "")


def day(text: str | None):
    """A date, or the text as it stands."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        return text
