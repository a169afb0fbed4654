"""Numbers that are not plain: decimal comma, thousands, units, signs, ranges; the decimal sign decided for a file."""

from collections.abc import Callable

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake import words
from pipeline.intake.arrays import encoded, in_parts, whole
from pipeline.intake.findings import Finding, Typed
from pipeline.intake.grid import Odd
from pipeline.intake.plain import ask
from pipeline.intake.word_cells import BLANKS

# Our own units in the spellings an export may repeat inside a cell; another unit is never converted here.
UNITS = {
    "kg": "kg|kgs|kilo", "years": "years?|yrs?|y|jahre?|ans|años", "h": "h|hrs?|hours?|std", "mL": "ml|cc",
    "mm": "mm", "mg/mL": "mg/ml", "/min": "/ ?min|bpm|rpm", "mmHg": "mm ?hg", "%": "%|percent|vol ?%",
    "°C": "°? ?c|°", "L/min": "l/min|lpm", "cmH2O": "cm ?h2o",
}  # fmt: skip
GAPS = "  \u2009’'"


def _sql(text: str) -> str:
    return text.replace("'", "''")


def _shapes(decimal: str) -> tuple[str, str]:
    """RE2 of (number with thousands, number) when decimals are written with this sign."""
    point, comma = (r"\.", ",") if decimal == "." else (",", r"\.")
    gap = f"[{comma}{_sql(GAPS)}]"
    return (
        rf"[+-]?\d{{1,3}}({gap}\d{{3}})+({point}\d+)?",
        rf"[+-]?(\d+({point}\d*)?|{point}\d+)([eE][+-]?\d+)?",
    )


# Shapes (RE2) that leave no doubt which sign is the decimal one, and the one that leaves it open.
COMMA = r"\d{1,3}(\.\d{3})+,\d+|\d*,(\d{1,2}|\d{4,})|0+,\d+|\d{4,},\d+"
POINT = r"\d{1,3}(,\d{3})+\.\d+|\d{1,3}(,\d{3}){2,}|\d*\.(\d{1,2}|\d{4,})|0+\.\d+|\d{4,}\.\d+"
EITHER = r"[1-9]\d{0,2},\d{3}"


def decide_decimal(
    db, odd: list[pa.Array], pointed: Callable[[], list[pa.Array]], fixed: str | None, where: str
) -> str:
    """'.' or ',' for all numbers of a file, from the cells that leave no doubt; where they disagree, the more of them.

    odd: the texts of its number columns that are no plain numbers; pointed: gives the texts of the plain
    ones with a point; fixed: what the mapping says. Raises RefusedFile where nothing decides and it matters.
    """
    if fixed:
        return fixed
    found = _shapes_of(db, odd)
    comma, point = found["comma"], found["point"]
    if comma or found["either"]:
        point += _shapes_of(db, pointed())["point"]
    if found["either"] and not comma and not point:
        raise RefusedFile(
            where=where,
            found=f"numbers such as {found['example']!r}, and nothing that tells whether the comma is a decimal sign",
            wanted="to know whether that is a little over one or over a thousand",
            fix='say decimal = "," or decimal = "." for this file in mapping.toml, or export with a decimal point',
        )
    return "," if comma > point else "."


def _shapes_of(db, texts: list[pa.Array]) -> dict:
    """How many texts have a decimal comma, a decimal point, or could be either, and one that could."""
    if not any(len(one) for one in texts):
        return {"comma": 0, "point": 0, "either": 0, "example": None}
    every = pa.chunked_array([whole(one).cast(pa.string()) for one in texts], pa.string())
    return ask(
        db,
        rf"""
        SELECT count(*) FILTER (regexp_full_match(cell, '\D*?({COMMA})\D*')) AS comma,
          count(*) FILTER (regexp_full_match(cell, '\D*?({POINT})\D*')) AS point,
          count(*) FILTER (regexp_full_match(cell, '\D*({EITHER})\D*')) AS either,
          min(cell) FILTER (regexp_full_match(cell, '\D*({EITHER})\D*')) AS example
        FROM (SELECT trim(text) AS cell FROM cells)
        """,
        cells=pa.table({"text": every}),
    ).to_pylist()[0]


def type_numbers(db, column: schema.Column, values: pa.Array, odd: Odd, decimal: str) -> Typed:
    """The column with its odd cells read by rule. values: plain cells, NULL elsewhere."""
    findings = []
    if len(odd.positions):
        codes, distinct = encoded(odd.texts)
        read = _read(db, column, distinct, decimal)
        positions = odd.positions.to_numpy(zero_copy_only=False)
        numbers = pa.concat_arrays(
            [read.column("value").combine_chunks().cast(pa.float64()), pa.nulls(1, pa.float64())]
        )
        mask = np.zeros(len(values), bool)
        mask[positions] = True
        values = pc.replace_with_mask(values, pa.array(mask), numbers.take(pa.array(codes)))
        rules = np.array([*read.column("rule").to_pylist(), None], object)
        kinds = np.array([*read.column("kind").to_pylist(), None], object)
        proposals = read.column("proposal").combine_chunks().cast(pa.string())
        for rule in sorted({rule for rule in rules if rule}):
            hit = np.flatnonzero((rules == rule)[codes])
            which = pa.array(codes[hit])
            kind = kinds[codes[hit[0]]]
            findings.append(
                Finding(rule, kind, column.name, positions[hit], distinct.take(which), proposals.take(which))
            )
    return Typed(values, findings)


def _read(db, column: schema.Column, distinct: pa.Array, decimal: str) -> pa.Table:
    """value, rule, kind, proposal of each distinct odd text."""
    thousands, number = _shapes(decimal)
    _, other = _shapes("," if decimal == "." else ".")
    unit = UNITS.get(column.unit, "")
    had_unit, digits = "false", "bare"
    if unit:
        had_unit = rf"regexp_matches(bare, '(?i)[0-9.,]\s*({unit})$')"
        digits = rf"trim(regexp_replace(bare, '(?i)\s*({unit})$', ''))"
    point, comma = (".", ",") if decimal == "." else (",", ".")
    blanks = _sql(BLANKS)
    no_gaps = "translate({}, '" + _sql(GAPS) + "', '')"
    missing = ", ".join(f"'{_sql(word)}'" for word in sorted(words.missing()) + [""])
    errors = ", ".join(f"'{_sql(word)}'" for word in sorted(words.of_kind("error")))
    return ask(
        db,
        rf"""
        WITH cell AS (SELECT row_number() OVER () AS n, text, trim(text, '{blanks}') AS cell FROM texts),
        unsigned AS (
          SELECT *, regexp_matches(cell, '^[~<>≤≥≈]') AS signed, trim(regexp_replace(cell, '^[~<>≤≥≈]=?', '')) AS bare
          FROM cell),
        unitless AS (
          SELECT *, {had_unit} AS had_unit, {digits} AS digits FROM unsigned),
        read AS (
          SELECT *,
            CASE
              WHEN regexp_full_match(digits, '{number}') THEN TRY_CAST(replace(digits, '{point}', '.') AS DOUBLE)
              WHEN regexp_full_match(digits, '{thousands}')
              THEN TRY_CAST(replace(replace({no_gaps.format("digits")}, '{comma}', ''), '{point}', '.') AS DOUBLE)
            END AS value,
            lower(cell) IN ({missing}) AS missing,
            lower(cell) IN ({errors}) OR starts_with(cell, '=') AS broken,
            regexp_full_match(digits, '\d+([.,]\d+)?\s*(-|–|to|bis|/|à)\s*\d+([.,]\d+)?(\s*\(.*\))?') AS several
          FROM unitless)
        SELECT
          CASE WHEN isfinite(value) AND NOT missing THEN value END AS value,
          CASE
            WHEN missing THEN NULL
            WHEN broken THEN 'spreadsheet_error'
            WHEN isfinite(value) AND signed THEN 'number_with_sign'
            WHEN isfinite(value) AND had_unit THEN 'number_with_unit'
            WHEN isfinite(value) AND regexp_full_match(digits, '{thousands}') THEN 'thousands_set_apart'
            WHEN isfinite(value) THEN 'decimal_comma'
            WHEN several THEN 'range_of_values'
            WHEN regexp_full_match(digits, '{other}') THEN 'mixed_decimal'
            ELSE 'not_a_number'
          END AS rule,
          CASE
            WHEN missing THEN NULL
            WHEN broken THEN 'W'
            WHEN isfinite(value) AND signed THEN 'N'
            WHEN isfinite(value) THEN 'A'
            WHEN several THEN 'W'
            ELSE 'Q'
          END AS kind,
          CASE
            WHEN missing OR broken OR isfinite(value) OR several THEN NULL
            WHEN regexp_full_match(digits, '{other}') THEN translate(digits, '.,', ',.')
            WHEN regexp_full_match(translate(digits, 'OolI,', '0011.'), '[+-]?\d+(\.\d+)?')
            THEN translate(digits, 'OolI,', '0011.')
          END AS proposal
        FROM read ORDER BY n
        """,
        texts=pa.table({"text": distinct}),
    )


def drop_missing_numbers(column: str, typed: Typed, parameter: pa.Array | None = None) -> Typed:
    """The column with the numbers that stand for not measured made unknown (rule N2).

    parameter: of each row, for the value column of long vitals, where it decides which numbers do.
    """
    stand_ins = words.missing_numbers()
    if not len(typed.values) or (parameter is None and column not in stand_ins):
        return typed
    numbers = typed.values.to_numpy(zero_copy_only=False)
    suspect = np.concatenate(
        in_parts(lambda part: part.start + np.flatnonzero((numbers[part] <= 0) | (numbers[part] >= 999)), len(numbers))
    )
    if parameter is None:
        suspect = suspect[np.isin(numbers[suspect], list(stand_ins[column]))]
    elif len(suspect):
        codes, names = encoded(parameter)
        codes, hit = codes[suspect], np.zeros(len(suspect), bool)
        for code in np.unique(codes).tolist():
            if code < len(names) and (mine := stand_ins.get(names[code].as_py())):
                hit |= (codes == code) & np.isin(numbers[suspect], list(mine))
        suspect = suspect[hit]
    if not len(suspect):
        return typed
    texts = pa.array([f"{number:g}" for number in numbers[suspect]])
    mask = np.zeros(len(numbers), bool)
    mask[suspect] = True
    values = pc.if_else(pa.array(mask), pa.scalar(None, pa.float64()), typed.values)
    return Typed(values, [*typed.findings, Finding("missing_number", "N", column, suspect, texts)])
