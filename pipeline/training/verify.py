"""Checks a signed sheet: whether the rows it covers still say in the database what they said on paper."""

from dataclasses import dataclass, field
from pathlib import Path

from pipeline.training import log
from pipeline.training.sheet import COLUMNS, Sheet, make, printed_code, read

NAMES_PEOPLE = {"supervised_by"}  # its values stay out of messages


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
        """For machines; no value of a column that names people."""
        return {
            "period": self.sheet.period,
            "code": self.sheet.code,
            "holds": self.holds,
            "altered": self.altered,
            "rows_same": self.same,
            "rows_changed": [
                {
                    "case_id": case,
                    "role": role,
                    "columns": [
                        {"column": column} if column in NAMES_PEOPLE else {"column": column, "signed": then, "now": now}
                        for column, then, now in cells
                    ],
                }
                for case, role, cells in self.changed
            ],
            "rows_gone": [{"case_id": case, "role": role} for case, role in self.gone],
            "rows_new": [{"case_id": case, "role": role} for case, role in self.new],
        }

    def sentences(self) -> list[str]:
        """For people, the verdict first."""
        total = len(self.sheet.rows)
        if self.holds:
            return [f"All {total} rows of this sheet ({self.sheet.period}) say what they said when it was printed."]
        said = [f"This sheet ({self.sheet.period}) does not hold: {self.same} of {total} rows say what they said."]
        if self.altered:
            said.append("The file beside the sheet, or the code given, is not that of the sheet that was printed.")
        for case, role, cells in self.changed:
            how = [
                f"{name} differs" if name in NAMES_PEOPLE else f"{name} was {then or 'empty'}, is {now or 'empty'}"
                for name, then, now in cells
            ]
            said.append(f"{case}, {role or 'no role'}: {'; '.join(how)}")
        said += [f"{case}, {role or 'no role'}: no longer in the log of that period" for case, role in self.gone]
        said += [f"{case}, {role or 'no role'}: in the log now, not on the sheet" for case, role in self.new]
        return said


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

    code: what stands on the paper; without it, what stands on the page beside the stored sheet, if it is there.
    Needs the tables of compute(). Raises SettingsFault for a file that is no sheet.
    """
    sheet, digest = read(path)
    code = code or printed_code(path)
    own = [row for row in log.rows(db) if row["person"] == sheet.trainee]
    now = make(sheet.trainee, sheet.period, sheet.first_day, sheet.last_day, own)
    return compare(sheet, digest, now, code)


def find(clinic: Path, sheet: Path) -> Path:
    """The sheet's page: a path, or a name; a page that came without its file is looked up in the clinic's reports."""
    from pipeline.reporting.write import FOLDER

    path = sheet if sheet.suffix in (".html", ".json") else sheet.with_name(f"{sheet.name}.html")
    beside = path.with_suffix(".json").exists()
    return path if beside else clinic / FOLDER / "training" / "sheets" / path.name


def check_in(clinic: Path, sheet: Path, code: str | None = None, progress=None) -> Verdict:
    """The same over what is loaded in a clinic folder, its models built anew.

    sheet: as find() takes it.
    """
    from pipeline import database, models, settings

    path = find(clinic, sheet)
    read(path)  # a wrong path is said before any work
    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db:
        models.prepare(db, chosen)
        models.build_layer(db, ("20_cases",), progress)
        log.compute(db, chosen, progress)
        return check(db, path, code)
