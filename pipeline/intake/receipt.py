"""What a load did, file by file: for a person as sentences, for a machine as a dict."""

from dataclasses import asdict, dataclass, field

from pipeline.errors import RefusedFile
from pipeline.intake.grid import Note


@dataclass
class FileAccount:
    """One file, or one sheet of it. lines = read + set_aside; read = new + unchanged + replaced + quarantined.

    known: its content was loaded before, under the name known_as; outdated: by another mapping.toml or other
    settings than now. problems: (sentence, rows) of what was quarantined.
    """

    name: str
    part: str
    table: str
    encoding: str = ""
    separator: str = ""
    decimal: str = ""
    facts: dict[str, str] = field(default_factory=dict)
    lines: int = 0
    read: int = 0
    new: int = 0
    unchanged: int = 0
    replaced: int = 0
    quarantined: int = 0
    set_aside: int = 0
    known: bool = False
    known_as: str = ""
    outdated: bool = False
    notes: list[Note] = field(default_factory=list)
    problems: list[tuple[str, int]] = field(default_factory=list)

    def sentences(self) -> list[str]:
        name = f"{self.name} [{self.part}]" if self.part else self.name
        if self.known:
            before = f" as {self.known_as}" if self.known_as not in ("", self.name) else ""
            said = [f"{name}: loaded before{before}; nothing changed."]
            if self.outdated:
                said.append(
                    "  It was read by another mapping.toml, zone or privacy setting than now. To read it anew, delete "
                    "rounds.duckdb and load everything again: it is made from exports/ alone."
                )
            return said
        counts = [
            (self.new, "new"),
            (self.unchanged, "unchanged"),
            (self.replaced, "replaced an older row"),
            (self.quarantined, "quarantined"),
        ]
        parts = ", ".join(f"{count:,} {word}" for count, word in counts if count) or "no rows"
        aside = f"; {self.set_aside:,} lines set aside (titles, repeated headers, blanks)" if self.set_aside else ""
        said = [f"{name}: {self.read:,} rows of {self.table}: {parts}{aside}."]
        said += [f"  {count:,} x {reason}" for reason, count in self.problems]
        for note in self.notes:
            shown = f" For example: {'; '.join(note.examples)}." if note.examples else ""
            said.append(
                f"  {note.sentence} ({note.count:,} cells){shown}" if note.count > 1 else f"  {note.sentence}{shown}"
            )
        return said

    def as_dict(self) -> dict:
        return asdict(self) | {"notes": [note._asdict() for note in self.notes]}


@dataclass
class Receipt:
    """files: what was loaded; refused: files of which nothing was loaded; released: rows that had waited
    for their case, as (file, table, rows); fix_sheets: sheets written to to_fix/."""

    files: list[FileAccount] = field(default_factory=list)
    refused: list[RefusedFile] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    released: list[tuple[str, str, int]] = field(default_factory=list)
    fix_sheets: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def quarantined(self) -> int:
        return sum(file.quarantined for file in self.files)

    def sentences(self) -> list[str]:
        said = []
        for file in self.files:
            said += file.sentences()
        said += [f"{name}: {rows:,} rows of {table} had waited for their case and are loaded now."
                 for name, table, rows in self.released if rows]  # fmt: skip
        said += [f"not loaded: {fault}" for fault in self.refused]
        said += [f"not read, as it is no table: {name}" for name in self.ignored]
        said += self.warnings
        if self.fix_sheets:
            said.append(
                "To mend: " + ", ".join(self.fix_sheets) + ". Correct the cells, put the file in exports/, load again."
            )
        return said

    def as_dict(self) -> dict:
        return {
            "files": [file.as_dict() for file in self.files],
            "refused": [fault.as_dict() for fault in self.refused],
            "ignored": list(self.ignored),
            "released": [{"file": f, "table": t, "rows": n} for f, t, n in self.released],
            "fix_sheets": list(self.fix_sheets),
            "warnings": list(self.warnings),
            "totals": {
                name: sum(getattr(file, name) for file in self.files)
                for name in ("lines", "read", "new", "unchanged", "replaced", "quarantined", "set_aside")
            },
        }
