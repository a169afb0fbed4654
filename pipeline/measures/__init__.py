"""Every number of every report, as rows of the one table `results`."""

from pipeline.measures.compute import compute

__all__ = ["compute"]
