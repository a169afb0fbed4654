"""The account of one file: every source row counted once, every rule with its count and two examples."""

import json
from collections import Counter

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake import findings as found
from pipeline.intake import headers, quarantine
from pipeline.intake.arrays import whole
from pipeline.intake.cells import TypedGrid
from pipeline.intake.grid import Grid, Note
from pipeline.intake.incoming import NEW, QUARANTINED, REPLACED, UNCHANGED, Incoming
from pipeline.intake.receipt import FileAccount
from pipeline.intake.sources import Source


def settle(source: Source, table: str, grid: Grid, typed: TypedGrid, incoming: Incoming) -> FileAccount:
    """Counts every source row once: quarantined before replaced before new before unchanged."""
    state = incoming.state
    became = (
        np.select(
            [state & QUARANTINED > 0, state & REPLACED > 0, state & NEW > 0, state & UNCHANGED > 0],
            [QUARANTINED, REPLACED, NEW, UNCHANGED],
        )
        if (state & (state - 1)).any()
        else state
    )
    counted = {what: int(np.count_nonzero(became == what)) for what in (NEW, UNCHANGED, REPLACED, QUARANTINED)}
    aside = {line for line, _ in incoming.set_aside}
    empty = [int(line) for line in incoming.lines[became == 0] if int(line) not in aside]
    incoming.set_aside += [(line, "no reading in it") for line in empty]
    account = FileAccount(
        source.name,
        grid.part,
        table,
        encoding=grid.facts.get("encoding", ""),
        separator=grid.facts.get("separator", ""),
        decimal=typed.decimal,
        facts=dict(grid.facts),
        read=sum(counted.values()) + len(grid.rejected),
        new=counted[NEW],
        unchanged=counted[UNCHANGED],
        replaced=counted[REPLACED],
        quarantined=counted[QUARANTINED] + len(grid.rejected),
        set_aside=len(incoming.set_aside),
        notes=[*grid.notes, *_notes(typed), *_absent(incoming)],
        problems=_problems(incoming, grid),
    )
    account.lines = len(incoming.lines) + len(grid.rejected) + len(grid.set_aside)
    if account.read != account.new + account.unchanged + account.replaced + account.quarantined:
        raise AssertionError(f"{source.name}: rows read do not add up: {account}")
    if account.lines != account.read + account.set_aside:
        raise AssertionError(f"{source.name}: lines do not add up: {account}")
    return account


def _absent(incoming: Incoming) -> list[Note]:
    if not incoming.absent:
        return []
    what = (
        "cases of this file's period"
        if incoming.table == "cases"
        else f"rows of {incoming.table} beside those in this file"
    )
    sentence = (
        f"{incoming.absent:,} {what} were loaded before and are not in it; they are kept. Deleted, or filtered out?"
    )
    return [Note("absent_in_newer_export", "W", "", incoming.absent, sentence)]


def _notes(typed: TypedGrid) -> list[Note]:
    notes = []
    columns = headers.columns_of(typed.table)
    for finding in typed.findings:
        if finding.kind == "Q" or not len(finding):
            continue
        column, values = columns[finding.column], typed.values[finding.column]
        examples = []
        if finding.texts is not None and not column.personal:
            for position, text in zip(finding.positions[:200], finding.texts[:200].to_pylist(), strict=True):
                after = values[int(position)].as_py()
                kept = finding.rule in found.FLAGGED
                example = text if kept else f"{text} -> {'unknown' if after is None else after}"
                if example not in examples:
                    examples.append(example)
        sentence = found.note_sentence(finding.rule, finding.kind, finding.column)
        notes.append(Note(finding.rule, finding.kind, finding.column, len(finding), sentence, tuple(examples[:2])))
    return notes


def _problems(incoming: Incoming, grid: Grid) -> list[tuple[str, int]]:
    """(first sentence, how many rows) of each rule that quarantined rows."""
    said: dict[tuple[str, str, bool], list] = {}
    for problem in incoming.problems:
        reasons = problem.reasons
        # Rows without a case wait for it for one of two reasons: nobody loaded it, or it is in quarantine.
        held = pc.starts_with(whole(reasons.cast(pa.string())), "case ") if problem.rule == "no_such_case" else None
        for mask in [None] if held is None else [held, pc.invert(held)]:
            some = reasons if mask is None else reasons.filter(mask)
            if len(some):
                entry = said.setdefault((problem.rule, problem.column, mask is held), [some[0].as_py(), 0])
                entry[1] += len(some)
    for why, count in Counter(why for *_, why in grid.rejected).items():
        line = next(line for line, _, rule in grid.rejected if rule == why)
        said[(why, "", False)] = [quarantine.rejected_reason(line, why), count]
    return [tuple(entry) for entry in said.values()]


def write(db, source: Source, digest: str, file_id: int, grid: Grid, account: FileAccount) -> None:
    """The file's row in files."""
    db.execute(
        "INSERT INTO files VALUES (?, ?, ?, ?, ?, now()::TIMESTAMP, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [file_id, source.name, grid.part, digest, source.path.stat().st_size, account.table, grid.mapping,
         account.encoding, account.separator, account.decimal, json.dumps(grid.facts, ensure_ascii=False),
         account.lines, account.read, account.new, account.unchanged, account.replaced, account.quarantined,
         account.set_aside],
    )  # fmt: skip
