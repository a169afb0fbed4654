"""From canonical tables to one row a case: the SQL in sql/models/, built in the order it reads."""

from pipeline.models.build import build, build_layer, prepare
from pipeline.models.seeds import load_seeds

__all__ = ["build", "build_layer", "load_seeds", "prepare"]
