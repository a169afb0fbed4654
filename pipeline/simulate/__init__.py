"""An invented clinic: two years of its records, charted well or with the usual faults, from a seed."""

from dataclasses import fields
from pathlib import Path

from pipeline.simulate.plan import Plan


def write_clinic(folder: Path, **wanted) -> dict:
    """Write clinic.toml and exports/*.csv of an invented clinic into folder; the same seed writes the
    same bytes. Keywords are those of Plan. Returns what was planted: counts and dates by name.

    Raises TypeError for a keyword that Plan has not.
    """
    from pipeline.simulate.build import build

    known = {field.name for field in fields(Plan)}
    if unknown := set(wanted) - known:
        raise TypeError(f"write_clinic has no {', '.join(sorted(unknown))}; it has {', '.join(sorted(known))}")
    return build(Path(folder), Plan(**wanted))


def write_slice(folder: Path) -> dict:
    """Write the small clinic that stands in sample_data/: two months, about 40 cases."""
    return write_clinic(folder, **SLICE)


SLICE = {"seed": 40, "months": 2, "cases": 38, "partial_days": 3, "vitals": "mixed"}

__all__ = ["Plan", "write_clinic", "write_slice"]
