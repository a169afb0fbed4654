"""From a clinic's exported files to the canonical tables, with every row accounted for."""

from pipeline.intake.loading import load

__all__ = ["load"]
