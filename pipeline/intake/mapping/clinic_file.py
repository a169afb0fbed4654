"""mapping.toml: how this clinic's exports read. Read strictly; an unanswered question stops the files it is about."""

import codecs
import tomllib
from dataclasses import MISSING, dataclass, field, fields
from difflib import get_close_matches
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

from pipeline import schema
from pipeline.errors import RefusedFile, SettingsFault
from pipeline.settings import unknown_key

FILE = "mapping.toml"
# What a column is mapped to when it is not to be loaded.
NOT_LOADED = "-"
# Targets besides a table's own columns: see mapping/apply.py.
HELPERS = {
    "cases": ("day", "birth_date"),
    "vitals": ("day", "unit", "blood_pressure", "status"),
    "drugs": ("day", "status"),
    "events": ("day", "status"),
    "equipment": ("day",),
    "stock": ("day",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What the evidence could not decide. sets: the key its answer is the value of, such as ["units", "Wt"];
    or, with a '*', the key and its value, the answer in the star's place: ["columns", "*", "case_id"]."""

    question: str
    sets: list
    choices: list = field(default_factory=list)
    answer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileKind:
    """One kind of file and how it reads.

    files, sheet: patterns of file and sheet names; encoding, separator: where they are not found out right;
    header_row: the line (from 1) the column names end on, where it is not found by them; header_rows:
    lines they take; time_format: of times in no usual form, in the letters of Python's strptime; columns:
    header -> our column, or '-'; units: header -> unit; codes: column -> their word -> ours; events:
    header of a column of ticks -> event; constants: column -> value; clock: 24, or 12 where hours
    come without am and pm; roll_hours: longest anesthetic taken to pass midnight [h];
    shift_minutes: added to every time, where a clock was wrong [min].
    """

    name: str
    files: list
    table: str = ""
    sheet: str = ""
    header_row: int = 0
    header_rows: int = 1
    encoding: str = ""
    separator: str = ""
    decimal: str = ""
    dates: str = ""
    time_format: str = ""
    clock: int = 24
    roll_hours: float = 16.0
    shift_minutes: float = 0.0
    fold_case: bool = False
    columns: dict = field(default_factory=dict)
    units: dict = field(default_factory=dict)
    codes: dict = field(default_factory=dict)
    events: dict = field(default_factory=dict)
    constants: dict = field(default_factory=dict)
    missing: list = field(default_factory=list)
    blank_is_no: list = field(default_factory=list)
    fill_down: list = field(default_factory=list)
    skip: list = field(default_factory=list)
    question: list = field(default_factory=list)

    @property
    def plain(self) -> bool:
        """Whether this stands for a file whose columns are ours: only what the typing cannot read is changed in it."""
        return not self.name

    @property
    def place(self) -> str:
        """Where in mapping.toml a key for this file belongs."""
        return f"under [[file]] {self.name} in {FILE}" if self.name else f"under a [[file]] for it in {FILE}"

    def fits(self, path: Path, sheet: str = "") -> bool:
        """Whether a file (and sheet) is of this kind, by name."""
        named = any(fnmatch(path.name.casefold(), str(pattern).casefold()) for pattern in self.files)
        return named and (not self.sheet or not sheet or fnmatch(sheet.casefold(), self.sheet.casefold()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fhir:
    """HL7 FHIR R4: cases: which resources are anesthetics ('anesthesia', 'procedure' or 'encounter');
    period_start, period_end: the columns their period fills; observations: code -> column of cases or
    parameter of vitals; extensions: url -> column; performers: function -> column of cases."""

    cases: str = "anesthesia"
    period_start: str = "induction_at"
    period_end: str = "extubation_at"
    observations: dict = field(default_factory=dict)
    extensions: dict = field(default_factory=dict)
    performers: dict = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """mapping.toml. words: column -> their word -> ours, for every file; trade_names: product -> drug,
    none is shipped; people: a spelling -> the person code; test_patients: patterns of case or patient
    ids that are no patients."""

    schema: int = 1
    test_patients: list = field(default_factory=list)
    people: dict = field(default_factory=dict)
    trade_names: dict = field(default_factory=dict)
    words: dict = field(default_factory=dict)
    fhir: Fhir = Fhir()
    file: list = field(default_factory=list)

    def claims(self, path: Path) -> bool:
        """Whether a file is of a kind written here."""
        return bool(self.kinds(path))

    def kinds(self, path: Path, sheet: str = "") -> list[FileKind]:
        """The kinds of file this path (and sheet) may be, in the order written."""
        return [kind for kind in self.file if kind.fits(path, sheet)]


def read(path: Path) -> Mapping:
    """The mapping in a mapping.toml, or an empty one where there is no file. Raises SettingsFault."""
    if not path.is_file():
        return Mapping()
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as cause:
        raise SettingsFault(
            where=path.name, found=str(cause), wanted="a readable TOML file", fix="mend the line named above"
        ) from cause
    return from_dict(given, path.name)


def from_dict(given: dict[str, Any], where: str = FILE) -> Mapping:
    """The mapping in a parsed mapping.toml, answers applied. Raises SettingsFault naming the key to mend."""
    given = dict(given)
    kinds = [_kind(table, where, number) for number, table in enumerate(given.pop("file", []), 1)]
    fhir = _build(Fhir, given.pop("fhir", {}), where, "fhir.")
    if fhir.cases not in ("anesthesia", "procedure", "encounter"):
        raise _wrong(where, "fhir.cases", fhir.cases, "'anesthesia', 'procedure' or 'encounter'")
    rest = _build(Mapping, given, where, "")
    return Mapping(**{spec.name: getattr(rest, spec.name) for spec in fields(Mapping)} | {"fhir": fhir, "file": kinds})


def _kind(given: dict, where: str, number: int) -> FileKind:
    name = given.get("name", f"number {number}")
    prefix = f"[[file]] {name}, "
    given = {key: dict(value) if isinstance(value, dict) else value for key, value in given.items()}
    if isinstance(given.get("files"), str):
        given["files"] = [given["files"]]
    questions = [_build(Question, table, where, prefix + "question.") for table in given.pop("question", [])]
    for asked in questions:
        if asked.answer:
            _answer(given, asked, where, prefix)
    kind = _build(FileKind, given | {"question": questions}, where, prefix)
    _check(kind, where, prefix)
    return kind


def _answer(given: dict, asked: Question, where: str, prefix: str) -> None:
    """Write the answer to the key it decides."""
    if asked.choices and asked.answer not in asked.choices:
        raise _wrong(
            where, f"{prefix}answer to {asked.question!r}", asked.answer, " or ".join(map(repr, asked.choices))
        )
    inside, sets, value = given, list(asked.sets), asked.answer
    if "*" in sets:
        sets, value = [asked.answer if key == "*" else key for key in sets[:-1]], sets[-1]
    for key in sets[:-1]:
        inside = inside.setdefault(key, {})
    inside[sets[-1]] = value


def _check(kind: FileKind, where: str, prefix: str) -> None:
    """Values that must be one of a few, and columns that must be ours."""
    for key, value, known in (
        ("table", kind.table, ("", *schema.TABLES)),
        ("decimal", kind.decimal, ("", ".", ",")),
        ("dates", kind.dates, ("", "dmy", "mdy")),
        ("clock", kind.clock, (12, 24)),
        ("header_rows", kind.header_rows, (1, 2)),
    ):
        if value not in known:
            raise _wrong(where, prefix + key, value, "one of " + ", ".join(repr(word) for word in known if word != ""))
    try:
        codecs.lookup(kind.encoding or "utf-8")
    except LookupError as cause:
        raise _wrong(
            where, prefix + "encoding", kind.encoding, "an encoding such as utf-8, cp1252 or utf-16"
        ) from cause
    if not kind.table:
        return
    targets = targets_of(kind.table)
    for header, column in kind.columns.items():
        if column not in targets:
            near = get_close_matches(str(column), targets, 1, 0.5)
            raise SettingsFault(
                where=f"{where}, {prefix}columns, {header!r}",
                found=repr(column),
                wanted=f"a column of {kind.table}, or '-' to leave it out",
                fix=f"did you mean {near[0]}?" if near else f"choose one of {', '.join(targets)}",
            )
    for column in (*kind.constants, *kind.codes, *kind.blank_is_no):
        if column not in targets:
            raise unknown_key(column, targets, f"{where}, {prefix}".rstrip(", "))


def targets_of(table: str) -> list[str]:
    """What a header of a file of this table may be mapped to."""
    own = [column.name for column in schema.TABLES[table].columns]
    wide = list(schema.PARAMETERS) if table == "vitals" else []
    return [*own, *wide, *HELPERS.get(table, ()), NOT_LOADED]


def ours(table: str, header: list[str]) -> FileKind:
    """The kind of a file whose columns are ours already."""
    return FileKind(name="", files=["*"], table=table, columns={name: name for name in header})


def must_be_answered(kind: FileKind, path: Path) -> None:
    """Raises RefusedFile with the first question of this kind that has no answer."""
    for asked in kind.question:
        if not asked.answer:
            more = sum(not other.answer for other in kind.question) - 1
            raise RefusedFile(
                where=f"{path.name}, read by {FILE}, [[file]] {kind.name}",
                found=f"a question without an answer: {asked.question}" + (f" (and {more} more)" if more else ""),
                wanted=f"answer = one of {', '.join(map(repr, asked.choices))}" if asked.choices else "an answer",
                fix=f"write the answer into {FILE} and load again",
            )


def _build(kind, given: dict, where: str, prefix: str):
    """A settings class from a parsed table: unknown keys, missing keys and wrong types raise SettingsFault."""
    known = {spec.name: spec for spec in fields(kind)}
    if not isinstance(given, dict):
        raise _wrong(where, prefix.rstrip("., "), given, "a [table]")
    for key in given:
        if key not in known:
            raise unknown_key(key, list(known), f"{where}, {prefix}".rstrip("., "))
    for key, spec in known.items():
        if key not in given and spec.default is MISSING and spec.default_factory is MISSING:
            raise _wrong(where, prefix + key, None, f"a line such as {key} = ...")
        wanted = spec.type
        value = given.get(key)
        if key in given and (not isinstance(value, wanted) or (isinstance(value, bool) and wanted is not bool)):
            if wanted is float and isinstance(value, int) and not isinstance(value, bool):
                continue
            raise _wrong(where, prefix + key, value, WORDS.get(wanted, "another kind of value"))
    return kind(**given)


WORDS = {str: "text in quotes", float: "a number", int: "a whole number", bool: "true or false",
         dict: "a [table]", list: "a list in [brackets]"}  # fmt: skip


def _wrong(where: str, key: str, found, wanted: str) -> SettingsFault:
    shown = "nothing" if found is None else repr(found)
    return SettingsFault(where=f"{where}, {key}", found=shown, wanted=wanted, fix=f"correct {key.split(', ')[-1]}")
