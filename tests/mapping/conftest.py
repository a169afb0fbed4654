"""The bench on which one fault is shown at a time."""

import shutil
from pathlib import Path

import pytest
from clean_month import Loaded, Month

from pipeline.intake.mapping.drafter import draft_into


class Bench:
    """A fresh clean month to spoil; load it as often as needed, each time into a new clinic."""

    def __init__(self, folder: Path, sound: dict):
        self.month, self.folder, self.sound, self.opened = Month(), folder, sound, []

    def load(self, files: dict[str, bytes | str] | None = None, mapping: str = "", **settings) -> Loaded:
        folder = self.folder / f"clinic{len(self.opened)}"
        loaded = Loaded(folder, self.month.files() if files is None else files, mapping, **settings)
        self.opened.append(loaded)
        return loaded

    def without(self, *names: str) -> dict[str, bytes]:
        return {name: content for name, content in self.month.files().items() if name not in names}

    def draft(self, files: dict[str, bytes | str]) -> str:
        """What `rounds map` writes for these files."""
        folder = self.folder / "drafts"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        for name, content in files.items():
            (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
        draft_into(folder / "mapping.toml", [folder / name for name in files])
        return (folder / "mapping.toml").read_text(encoding="utf-8")

    def others_unchanged(self, loaded: Loaded, *spoiled: str) -> None:
        """No other case is touched by the fault of one: its rows are those of the clean month."""
        want = {table: [row for row in rows if row[0] not in spoiled] for table, rows in self.sound.items()}
        assert loaded.rows_of_others(*spoiled) == want


@pytest.fixture(scope="session")
def sound(tmp_path_factory):
    """Every row of the clean month as loaded."""
    loaded = Loaded(tmp_path_factory.mktemp("sound"), Month().files())
    rows = loaded.rows_of_others()
    assert {table: len(found) for table, found in rows.items()} == {
        "cases": 30,
        "vitals": 2100,
        "drugs": 60,
        "events": 6,
    }
    loaded.close()
    return rows


@pytest.fixture
def bench(tmp_path, sound):
    made = Bench(tmp_path, sound)
    yield made
    for loaded in made.opened:
        loaded.close()
