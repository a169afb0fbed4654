"""Rules over several cells of a case: the E of the ASA class against emergency, the weight against the species."""

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.arrays import encoded
from pipeline.intake.cells import TypedGrid
from pipeline.intake.findings import Finding
from pipeline.intake.grid import Grid
from pipeline.intake.word_cells import emergency_mark


def apply(typed: TypedGrid, grid: Grid, bounds: list[dict]) -> None:
    """Changes the typed cases in place. bounds: rows of the plausibility seed (parameter, species, low, high)."""
    if typed.table != "cases":
        return
    if "asa_class" in typed.values:
        _emergency(typed, grid)
    if "weight_kg" in typed.values and "species" in typed.values:
        _weight(typed, bounds)


def _emergency(typed: TypedGrid, grid: Grid) -> None:
    """An E in the ASA cell makes the case an emergency; where the column emergency says no, it is unknown (P3)."""
    codes, distinct = encoded(grid.cells.column("asa_class").cast(pa.string()))
    marked = np.array([bool(emergency_mark(text)) for text in distinct.to_pylist()] + [False])[codes]
    if not marked.any():
        return
    charted = typed.values.get("emergency")
    if charted is None:
        typed.values["emergency"] = pa.array(np.ones(len(marked), bool), mask=~marked)
        return
    denied = marked & pc.fill_null(pc.invert(charted), False).to_numpy(zero_copy_only=False)
    values = pc.if_else(pa.array(marked), True, charted)
    typed.values["emergency"] = pc.if_else(pa.array(denied), pa.scalar(None, pa.bool_()), values)
    if denied.any():
        positions = np.flatnonzero(denied)
        texts = distinct.take(pa.array(codes[positions]))
        typed.findings.append(Finding("emergency_disagrees", "W", "asa_class", positions, texts))


def _weight(typed: TypedGrid, bounds: list[dict]) -> None:
    """A weight outside the species' bounds is kept as charted and flagged, with what grams would make of it (P8)."""
    species = typed.values["species"].cast(pa.string()).to_numpy(zero_copy_only=False)
    weight = typed.values["weight_kg"].to_numpy(zero_copy_only=False)
    for row in bounds:
        if row["parameter"] != "weight_kg":
            continue
        low, high = float(row["low"]), float(row["high"])
        positions = np.flatnonzero((species == row["species"]) & ((weight > high) | (weight < low)))
        if not len(positions):
            continue
        grams = [
            f"{kilograms / 1000:g} kg?" if low <= kilograms / 1000 <= high else None for kilograms in weight[positions]
        ]
        texts = pa.array([f"{kilograms:g}" for kilograms in weight[positions]])
        typed.findings.append(
            Finding("weight_outside_bounds", "W", "weight_kg", positions, texts, pa.array(grams, pa.string()))
        )
