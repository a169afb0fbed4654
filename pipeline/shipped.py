"""Where sql/, reports/ and sample_data/ are: packed in a wheel, or beside us in a checkout."""

from pathlib import Path

PACKAGE = Path(__file__).parent
PACKED = PACKAGE / "_shipped"


def folder(name: str) -> Path:
    """The folder called name (sql, reports or sample_data), wherever this install keeps it.

    Raises FileNotFoundError when the install is damaged.
    """
    root = PACKED if PACKED.is_dir() else PACKAGE.parent
    found = root / name
    if not found.is_dir():
        raise FileNotFoundError(f"this install has no {name}/ folder; install it again")
    return found
