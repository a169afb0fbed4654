"""A clinic's export brought to our columns, words, units and times, by mapping.toml and whole-column evidence."""

from pathlib import Path

FILE = "mapping.toml"


def read(clinic: Path):
    """The clinic's mapping.toml, or an empty mapping where there is none. Raises SettingsFault."""
    from pipeline.intake.mapping import clinic_file

    return clinic_file.read(clinic / FILE)
