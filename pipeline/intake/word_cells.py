"""Typing of text, codes, yes/no, ASA classes and days: each distinct text is read once, never each cell."""

import re
import unicodedata
from collections.abc import Callable
from datetime import date
from difflib import get_close_matches

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake import words
from pipeline.intake.arrays import empty, encoded, in_parts
from pipeline.intake.findings import Finding, Reading, Typed

BLANKS = " \t\r\n\v\f\u00a0\u202f\u2007\u2009\ufeff\u200b\u200c\u200d\u2060"
# Identifiers that a spreadsheet may have turned into a number or a date.
IDS = ("case_id", "patient_id", "machine_id")
# Ids (RE2) that need no second look: letters, then figures, so neither a date, a rounded number nor a word for missing.
PLAIN_ID = r"^[A-Za-z]{1,8}[0-9]+(-[0-9]+)*$"
SCIENTIFIC = re.compile(r"\d(?:[.,]\d+)?[eE]\+\d+")
DATED = re.compile(
    r"\d{4}-\d\d-\d\d(?:[ T]00:00(?::00)?)?|\d{1,2}[./]\d{1,2}[./]\d{2,4}|\d{1,2}[-. ]+[^\W\d]{3,4}\.?(?:[- ]\d{2,4})?"
)
MONTHS = re.compile(
    r"(?i)\d{1,2}[-. ]+(?:jan|feb|fev|fév|m[aäe]r|mrt|apr|abr|avr|ma[iyg]|mei|jun|juin|giu|jul|juil|lug|aug|ago|"
    r"août|sep|set|sept|oct|okt|out|ott|nov|dec|dez|dic|déc)"
)
ASA = re.compile(r"(?:ASA|PS|CLASS|KLASSE|P)*[:=]?(I{1,3}|IV|V|[1-5])E?")


def type_words(column: schema.Column, texts: pa.ChunkedArray, read: Callable[[str], Reading]) -> Typed:
    """The column with read applied to each distinct text; NULL stays NULL."""
    codes, distinct = encoded(texts)
    if column.name in IDS and pc.all(pc.match_substring_regex(distinct, PLAIN_ID)).as_py():
        unknown = codes == len(distinct) if texts.null_count else None
        return Typed(pa.DictionaryArray.from_arrays(pa.array(codes, mask=unknown), distinct))
    readings = [read(text) for text in distinct.to_pylist()]
    values = pa.array([one.value for one in readings] + [None], arrow_type(column))
    kinds = {(one.rule, one.kind) for one in readings if one.rule}
    findings = []
    for rule, kind in sorted(kinds):
        hit = np.array([(one.rule, one.kind) == (rule, kind) for one in readings] + [False])
        findings.append(found(column.name, rule, kind, hit, codes, distinct, readings))
    if not pa.types.is_string(values.type):
        return Typed(values.take(pa.array(codes)), findings)
    # Texts that read the same share one code, so that equal codes mean equal values; NULL has the code past the last.
    unique = values.dictionary_encode()
    word_of = unique.indices.fill_null(len(unique.dictionary)).to_numpy(zero_copy_only=False).astype(np.int32)
    if not (word_of == np.arange(len(word_of))).all():
        mapped = empty(len(codes), np.int32)
        in_parts(lambda part: np.take(word_of, codes[part], out=mapped[part]), len(codes))
        codes = mapped
    unknown = codes == len(unique.dictionary) if values.null_count > 1 or texts.null_count else None
    return Typed(pa.DictionaryArray.from_arrays(pa.array(codes, mask=unknown), unique.dictionary), findings)


def found(column: str, rule: str, kind: str, hit: np.ndarray, codes: np.ndarray, distinct: pa.Array, readings):
    """The cells whose distinct text is hit, as one finding."""
    positions = np.flatnonzero(hit[codes])
    which = pa.array(codes[positions])
    proposals = pa.array([one.proposal or None for one in readings], pa.string())
    return Finding(rule, kind, column, positions, distinct.take(which), proposals.take(which))


def arrow_type(column: schema.Column) -> pa.DataType:
    return {
        "text": pa.string(), "code": pa.string(), "codes": pa.string(), "integer": pa.int64(), "number": pa.float64(),
        "yes_no": pa.bool_(), "day": pa.date32(), "time": pa.timestamp("us"),
    }[column.kind]  # fmt: skip


def reader(column: schema.Column) -> Callable[[str], Reading]:
    """How the texts of this column are read."""
    if column.name == "asa_class":
        return read_asa
    kinds = {"text": read_text, "code": read_code, "codes": read_codes, "yes_no": read_yes_no, "day": read_day}
    return lambda text: kinds[column.kind](column, text)


def read_text(column: schema.Column, text: str) -> Reading:
    cell = text.strip(BLANKS)
    if column.name in IDS:
        return _read_id(cell)
    spared = column.personal and cell.casefold() == "na"
    return Reading(None if not spared and (not cell or cell.casefold() in words.missing()) else cell)


def _read_id(cell: str) -> Reading:
    if not cell or cell.casefold() in words.missing():
        return Reading(None)
    if SCIENTIFIC.fullmatch(cell):
        return Reading(None, "Q", "id_in_scientific_form", "type the id as text, from the original record")
    if DATED.fullmatch(cell) and (not re.search(r"[^\W\d]{2}", cell) or MONTHS.match(cell)):
        return Reading(None, "Q", "id_turned_into_date", "type the id as text, from the original record")
    if cell.isascii():
        return Reading(cell)
    cell = unicodedata.normalize("NFKC", cell)
    alphabets = {unicodedata.name(letter, "?").split()[0] for letter in cell if letter.isalpha()}
    if len(alphabets & {"LATIN", "GREEK", "CYRILLIC"}) > 1 or (cell[0].isalpha() and "LATIN" not in alphabets):
        return Reading(cell, "W", "look_alike_letters")
    return Reading(cell)


def read_code(column: schema.Column, text: str) -> Reading:
    cell = text.strip(BLANKS)
    known, folded = words.codes(column), words.fold(unicodedata.normalize("NFKC", cell))
    if folded in known:
        code = known[folded]
        return Reading(code) if words.fold(code) == folded else Reading(code, "A", "word_for_code", code)
    if not cell or cell.casefold() in words.missing():
        return Reading(None)
    near = get_close_matches(folded, known, 1, 0.75)
    return Reading(None, "Q" if column.required else "W", "not_a_code", known[near[0]] if near else "")


def read_codes(column: schema.Column, text: str) -> Reading:
    parts = [words.fold(part.strip(BLANKS)) for part in text.split(";")]
    parts = [part for part in parts if part and part not in words.missing()]
    return Reading(";".join(dict.fromkeys(parts)) or None)


def read_yes_no(column: schema.Column, text: str) -> Reading:
    cell = text.strip(BLANKS).casefold()
    word = words.of_kind("yes_no").get(cell)
    if word:
        return Reading(word == "yes")
    if not cell or cell in words.missing():
        return Reading(None)
    return Reading(None, "Q", "not_yes_no")


def read_asa(text: str) -> Reading:
    """ASA class 1 to 5 from the usual spellings; anything else is unknown and the row stays.

    >>> read_asa("II-E").value, read_asa("ASA 3").value, read_asa("2-3")
    (2, 3, Reading(value=None, kind='W', rule='unclear_class', proposal=''))
    """
    cell = text.strip(BLANKS)
    if not cell or (cell.casefold() in words.missing() and cell != "?"):
        return Reading(None)
    several = re.search(r"(?i)[\div]\s*[-/]\s*[\div]", cell)
    match = ASA.fullmatch(re.sub(r"[\s._()-]+", "", re.sub(r"[.,]0$", "", cell)).upper())
    if several or not match:
        return Reading(None, "W", "unclear_class")
    roman = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5}
    value = roman.get(match[1]) or int(match[1])
    return Reading(value) if cell == str(value) else Reading(value, "A", "word_for_code", str(value))


def emergency_mark(text: str) -> bool | None:
    """Whether an ASA cell carries the E of an emergency: True, or None where it says nothing.

    >>> emergency_mark("2E"), emergency_mark("e"), emergency_mark("2")
    (True, True, None)
    """
    cell = re.sub(r"[\s._()-]+", "", text).upper()
    return True if re.fullmatch(r"(?:ASA|PS|P)*[IV1-5?/]*E", cell) else None


def read_day(column: schema.Column, text: str) -> Reading:
    cell = text.strip(BLANKS)
    if not cell or cell.casefold() in words.missing():
        return Reading(None)
    match = re.fullmatch(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T]00:00(?::00(?:\.0+)?)?)?", cell)
    parts = match and (match[1], match[2], match[3])
    if not match and (match := re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", cell)):
        parts = (match[3], match[2], match[1])
    try:
        return Reading(date(*map(int, parts)))
    except (TypeError, ValueError):
        return Reading(None, "Q", "not_a_day")
