"""Adds the kinds of files somebody wants mapped to mapping.toml, below what stands there."""

from dataclasses import asdict, dataclass, field
from pathlib import Path

from pipeline.errors import RefusedFile, SettingsFault
from pipeline.intake.mapping import clinic_file, draft_files, draft_text, words
from pipeline.intake.mapping.drafting import drafts


@dataclass
class Drafted:
    """What became of one file: the kinds written, the questions in them, columns no kind names; or why nothing was."""

    file: str
    written: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)
    not_named: list[str] = field(default_factory=list)
    why_not: str = ""

    def as_dict(self) -> dict:
        return asdict(self)

    def sentences(self) -> list[str]:
        said = [f"{self.file}: {self.why_not}"] if self.why_not else []
        said += [f"{self.file}: written as [[file]] {name}" for name in self.written]
        said += [f"  to answer: {question}" for question in self.questions]
        if self.not_named:
            said.append(f"  columns no [[file]] names, so not loaded: {', '.join(self.not_named)}")
        return said


def draft_into(path: Path, files: list[Path]) -> list[Drafted]:
    """Writes a [[file]] for each table that mapping.toml does not know. Raises RefusedFile, SettingsFault."""
    if not path.parent.is_dir():
        raise SettingsFault(
            where=str(path.parent),
            found="no such folder",
            wanted="the clinic's folder",
            fix="run `rounds start DIR` to make one, or give the folder with --clinic DIR",
        )
    done = []
    for file in files:
        mapping = clinic_file.read(path)
        report, text = _of_file(file, mapping)
        if text:
            stands = path.read_text(encoding="utf-8-sig") if path.is_file() else draft_text.HEAD
            path.write_text(stands.rstrip("\n") + "\n\n" + text, encoding="utf-8", newline="\n")
        done.append(report)
    return done


def _of_file(file: Path, mapping) -> tuple[Drafted, str]:
    report, texts = Drafted(file.name), []
    if draft_files.is_fhir(file):
        report.why_not = "HL7 FHIR resources are known by themselves; codes of your own go under [fhir] in mapping.toml"
        return report, ""
    names = {kind.name for kind in mapping.file}
    for grid, units, header_rows in draft_files.tables_in(file):
        kinds = mapping.kinds(file, grid.part)
        if kinds:
            given = {words.fold_header(one) for kind in kinds for one in (*kind.columns, *kind.events)}
            report.not_named += [name for name in grid.header if words.fold_header(name) not in given]
            report.why_not = f"mapping.toml knows it already, as {', '.join(kind.name for kind in kinds)}"
            continue
        if draft_files.is_ours(grid.header, file):
            report.why_not = "its columns are ours already; it needs no mapping"
            continue
        for draft in drafts(grid, units, header_rows):
            draft.name = _unlike(draft.name, names)
            names.add(draft.name)
            texts.append(draft_text.text_of(draft))
            report.written.append(draft.name)
            report.questions += [asked.question for asked in draft.questions]
    if not texts and not report.why_not:
        raise RefusedFile(
            where=file.name,
            found="no line among the first 30 with column names we know",
            wanted="column names such as case no, species, weight, time, heart rate (en, de, fr, es, nl, it, pt)",
            fix="add a line of such names above the rows, or write its [[file]] into mapping.toml by hand",
        )
    return report, "\n".join(texts)


def _unlike(name: str, taken: set[str]) -> str:
    number, unlike = 2, name
    while unlike in taken:
        unlike, number = f"{name} {number}", number + 1
    return unlike
