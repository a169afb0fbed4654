"""From a clinic's exported files to the canonical tables, with every row accounted for."""
