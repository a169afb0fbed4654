"""Checks a signed sheet: whether the rows it covers still say in the database what they said on paper."""

from dataclasses import dataclass, field
from pathlib import Path

from pipeline.training import log
from pipeline.training.sheet import COLUMNS, Sheet, make, read


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a check found. altered: the stored rows no longer give the code they were stored or printed with.

    changed: (case_id, role, [(column, signed, now), ...]); gone, new: (case_id, role).
    """

    sheet: Sheet
    altered: bool
    same: int
    changed: list[tuple[str, str, list[tuple[str, str, str]]]] = field(default_factory=list)
    gone: list[tuple[str, str]] = field(default_factory=list)
    new: list[tuple[str, str]] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        return not (self.altered or self.changed or self.gone or self.new)

    def as_dict(self) -> dict:
        return {
            "trainee": self.sheet.trainee,
            "period": self.sheet.period,
            "code": self.sheet.code,
            "holds": self.holds,
            "altered": self.altered,
            "rows_same": self.same,
            "rows_changed": [
                {
                    "case_id": case,
                    "role": role,
                    "columns": [dict(zip(("column", "signed", "now"), c, strict=True)) for c in cells],
                }
                for case, role, cells in self.changed
            ],
            "rows_gone": [{"case_id": case, "role": role} for case, role in self.gone],
            "rows_new": [{"case_id": case, "role": role} for case, role in self.new],
        }


def compare(sheet: Sheet, digest: str, now: Sheet, code: str | None = None) -> Verdict:
    """A stored sheet against the same period of the log as it is now. code: what stands on the paper, if given."""
    typed = None if code is None else "".join(code.split()).replace("-", "").upper()
    altered = digest != sheet.digest or (typed is not None and typed != sheet.code.replace("-", ""))
    before, after = _by_key(sheet.rows), _by_key(now.rows)
    changed = []
    for key in before.keys() & after.keys():
        cells = [
            (column, then, current)
            for column, then, current in zip(COLUMNS, before[key], after[key], strict=True)
            if then != current
        ]
        if cells:
            changed.append((*key, cells))
    return Verdict(
        sheet=sheet,
        altered=altered,
        same=len(before.keys() & after.keys()) - len(changed),
        changed=sorted(changed),
        gone=sorted(before.keys() - after.keys()),
        new=sorted(after.keys() - before.keys()),
    )


def _by_key(rows: list[tuple[str, ...]]) -> dict[tuple[str, str], tuple[str, ...]]:
    case, role = COLUMNS.index("case_id"), COLUMNS.index("role")
    return {(row[case], row[role]): row for row in rows}


def check(db, path: Path, code: str | None = None) -> Verdict:
    """Whether the rows a sheet covers still say in the database what they said when it was printed.

    Needs the tables of compute(). Raises SettingsFault for a file that is no sheet.
    """
    sheet, digest = read(path)
    own = [row for row in log.rows(db) if row["person"] == sheet.trainee]
    now = make(sheet.trainee, sheet.period, sheet.first_day, sheet.last_day, own)
    return compare(sheet, digest, now, code)
