"""What typing finds in cells: where, which rule, and the sentence a person reads about it."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from pipeline import schema

# Rule -> what is said of the cell, after 'COLUMN holds VALUE' or, where it begins with '{', in full.
SAID = {
    "not_a_number": "which is not a number",
    "not_a_time": "which is not a date with a time such as 2025-03-06 08:15",
    "not_a_day": "which is not a date such as 2025-03-06",
    "not_yes_no": "which is neither yes nor no",
    "not_a_code": "which is none of {codes}",
    "time_out_of_range": "a time before 1990 or after the end of next year",
    "date_without_time": "a date without the time of day",
    "id_in_scientific_form": "a number a spreadsheet has rounded; the true id is lost",
    "id_turned_into_date": "a date a spreadsheet has made of the id",
    "range_of_values": "two values in one cell",
    "spreadsheet_error": "an error or a formula of a spreadsheet, not a value",
    "unclear_class": "which is no single ASA class from 1 to 5",
    "mixed_decimal": "which writes decimals otherwise than the rest of the file",
    "missing_number": "a number that stands for not measured",
    "number_with_unit": "a number with its unit",
    "number_with_sign": "a number with a sign such as ~ or <",
    "decimal_comma": "a number with a decimal comma",
    "thousands_set_apart": "a number with its thousands set apart",
    "word_for_code": "another word for one of our codes",
    "time_with_zone": "a time that names its own zone",
    "other_date_format": "a date not written year first",
    "spreadsheet_serial": "a spreadsheet's day number",
    "time_does_not_exist": "a time that the spring clock change skips",
    "time_stands_twice": "a time that the autumn clock change repeats",
    "time_put_second": "a time that the autumn clock change repeats, put second by the order of the case's rows",
    "emergency_disagrees": "an E, though the column emergency says no",
    "weight_outside_bounds": "not a weight of the species",
    "look_alike_letters": "letters of another alphabet that look like ours",
}

# What becomes of a cell: A converted, N by a rule a person may doubt, W unknown or flagged, Q its row quarantined.
OUTCOME = {
    "A": "converted",
    "N": "converted; please look whether that is right",
    "W": "taken as unknown; the row stays",
    "Q": "row quarantined",
}
FLAGGED = {
    "time_does_not_exist": "moved one hour on",
    "time_stands_twice": "taken as the first of the two",
    "time_put_second": "taken as the second of the two",
    "weight_outside_bounds": "kept as charted; no measure uses it",
    "emergency_disagrees": "emergency taken as unknown",
    "look_alike_letters": "kept as written",
}


class Reading(NamedTuple):
    """One cell text, read: value, and if a rule was needed its kind (A, N, W, Q), name and a proposal."""

    value: object
    kind: str = ""
    rule: str = ""
    proposal: str = ""


@dataclass
class Finding:
    """Cells of one column that one rule applies to. positions: of the grid's rows; texts: as they stood."""

    rule: str
    kind: str
    column: str
    positions: np.ndarray
    texts: pa.Array | None = None
    proposals: pa.Array | None = None

    def __len__(self) -> int:
        return len(self.positions)


@dataclass
class Typed:
    """A column after typing: one value a row, NULL where unknown, and what was found on the way."""

    values: pa.Array
    findings: list[Finding] = field(default_factory=list)


def shown(column: schema.Column, text: str | None) -> str:
    """A value as a message may show it: never that of an identifying column."""
    if column.personal:
        return "a value not shown here, as it may name a person"
    text = text or ""
    return repr(text if len(text) <= 60 else f"{text[:57]}...")


def reason(rule: str, column: schema.Column, text: str | None) -> str:
    """The sentence for one cell.

    >>> reason("not_a_number", schema.CASES.column("weight_kg"), "heavy")
    "weight_kg holds 'heavy', which is not a number"
    """
    codes = ", ".join(column.codes[:-1]) + f" or {column.codes[-1]}" if len(column.codes) > 1 else ""
    said = SAID[rule].format(codes=codes)
    return f"{column.name} holds {shown(column, text)}, {said}"


def note_sentence(rule: str, kind: str, column: str) -> str:
    """The sentence for all cells of a column that a rule applies to."""
    said = SAID[rule].format(codes="its codes")
    return f"{column}: {said.removeprefix('which is ')} - {FLAGGED.get(rule) or OUTCOME[kind]}."
