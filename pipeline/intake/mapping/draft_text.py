"""A draft as text for mapping.toml: readable, with a remark where a person should look, questions last."""

import json

from pipeline.intake.mapping.clinic_file import NOT_LOADED
from pipeline.intake.mapping.draft import Draft

HEAD = """\
# How this clinic's exports read. `rounds map FILE` adds kinds of file here and never changes what stands here.
# A column name = our column, or "-" to leave it out. Questions without an answer stop their files until answered.
schema = 1

# test_patients = ["TEST*"]          # patterns of case or patient ids that are no patients
# [people]                           # a spelling = the person's code
# "A.B." = "AB"
# [trade_names]                      # a product on your shelf = the drug's international name
# "our product" = "propofol"
# [words.machine_id]                 # any column of ours: your word = our word
# "blue one" = "M2"
"""


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    return json.dumps(text, ensure_ascii=False)


def text_of(draft: Draft) -> str:
    """The [[file]] block of a draft."""
    lines = [
        "[[file]]",
        f"name = {quoted(draft.name)}",
        f"files = [{quoted(draft.files)}]",
        f"table = {quoted(draft.table)}",
    ]
    if draft.sheet:
        lines.append(f"sheet = {quoted(draft.sheet)}")
    if draft.header_rows == 2:
        lines.append("header_rows = 2")
    if draft.decimal:
        lines.append(f"decimal = {quoted(draft.decimal)}")
    if draft.dates:
        lines.append(f"dates = {quoted(draft.dates)}")
    lines += ["", "[file.columns]", *_columns(draft)]
    if draft.units:
        lines += ["", "[file.units]", *(f"{quoted(header)} = {quoted(unit)}" for header, unit in draft.units.items())]
    if draft.events:
        lines += [
            "",
            "[file.events]",
            *(f"{quoted(header)} = {quoted(event)}" for header, event in draft.events.items()),
        ]
    lines += _words(draft)
    for asked in draft.questions:
        lines += ["", "[[file.question]]", f"question = {quoted(asked.question)}"]
        lines += [f"sets = {json.dumps(asked.sets, ensure_ascii=False)}"]
        lines += [f"choices = {json.dumps(asked.choices, ensure_ascii=False)}"] if asked.choices else []
        lines += ['answer = ""']
    return "\n".join(lines) + "\n"


def _columns(draft: Draft) -> list[str]:
    lines = []
    for header, column in draft.columns.items():
        remark = draft.remarks.get(header, "")
        lines.append(f"{quoted(header)} = {quoted(column or NOT_LOADED)}" + (f"  # {remark}" if remark else ""))
    return lines


def _words(draft: Draft) -> list[str]:
    """Words we do not know, as remarks: to be corrected and set free of their '#' by a person."""
    lines = []
    for column, found in draft.unknown_words.items():
        lines += [
            "",
            f"# Words of {column} we do not know; without a line here they are unknown.",
            f"# [file.codes.{column}]",
        ]
        lines += [f"# {quoted(word)} = {quoted(near or '?')}" + ("  # the nearest word we know" if near else "")
                  for word, near in found.items()]  # fmt: skip
    return lines
