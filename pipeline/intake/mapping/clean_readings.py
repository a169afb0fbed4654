"""Long readings of our own columns in which nothing needs mending: seen by whole columns, and typed on the way.

A file in which one cell may need more than its typing is none of these, and is read the careful way (apply).
"""

from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake import plain
from pipeline.intake import words as cell_words
from pipeline.intake.grid import Grid
from pipeline.intake.mapping import records, words
from pipeline.intake.mapping.clinic_file import Mapping

COLUMNS = ["case_id", "taken_at", "parameter", "value"]
TIME = r"^\d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)?$"
# Temperatures above may be Fahrenheit, saturations up to this fractions.
WARM, FRACTION = 45.0, 1.0


def typed(grid: Grid, mapping: Mapping) -> Grid | None:
    """The grid with its times and numbers typed, as the careful way and the typing would; None if a cell may need
    more than that."""
    if set(grid.header) != set(COLUMNS) or mapping.words or mapping.test_patients or not len(grid.rows):
        return None
    texts = grid.cells.select(COLUMNS).combine_chunks()
    columns = {name: plain.whole(texts.column(name)) for name in COLUMNS}
    if any(not pa.types.is_string(column.type) for column in columns.values()):
        return None
    if any(columns[name].null_count for name in ("case_id", "taken_at", "parameter")):
        return None
    coded = {name: column.dictionary_encode() for name, column in columns.items()}
    words_of = {name: column.dictionary for name, column in coded.items()}
    if set(words_of["parameter"].to_pylist()) - schema.PARAMETERS.keys():
        return None
    if not pc.all(pc.match_substring_regex(words_of["taken_at"], TIME)).as_py():
        return None
    times, numbers = (plain.quickly(words_of[name], kind) for name, kind in (("taken_at", "time"), ("value", "number")))
    if not times or not numbers or len(times[1].positions):
        return None
    values, parameters = coded["value"], coded["parameter"]
    if _suspicious(numbers[0].to_numpy(zero_copy_only=False), values.indices, parameters):
        return None
    cells = pa.table(
        [coded["case_id"], times[0].take(coded["taken_at"].indices), parameters, numbers[0].take(values.indices)],
        names=COLUMNS,
    )
    clean = replace(grid, cells=cells, set_aside=sorted(grid.set_aside), as_text=texts.take)
    return None if len(records.suspects(clean, ["case_id"], ())) else clean


def _suspicious(numbers: np.ndarray, codes: pa.Array, parameters: pa.DictionaryArray) -> bool:
    """Whether a reading may be Fahrenheit, a fraction, kPa, or a number that stands for not measured.

    numbers: the distinct ones; codes: of each row; parameters: of each row."""
    known = codes.is_valid().to_numpy(zero_copy_only=False)
    codes = codes.fill_null(0).to_numpy(zero_copy_only=False)
    which = parameters.indices.to_numpy(zero_copy_only=False)
    for place, name in enumerate(parameters.dictionary.to_pylist()):
        counts = np.bincount(codes[(which == place) & known], minlength=len(numbers))
        there = numbers[counts > 0]
        if np.isin(there, list(cell_words.missing_numbers().get(name, ()))).any():
            return True
        if name == "temperature" and (there > WARM).any():
            return True
        if name == "spo2" and ((there > 0) & (there <= FRACTION)).any():
            return True
        if name == "etco2":
            # As many of each as the careful way takes.
            counts = np.minimum(np.where(numbers > 0, counts, 0), 1000)
            real = np.sort(np.repeat(numbers, counts))
            if len(real) and real[len(real) // 2] < float(words.evidence("kpa_below")):
                return True
    return False
