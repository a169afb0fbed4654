"""The wheel holds what the checkout holds, and its command runs from elsewhere with nothing of ours beside it."""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SHIPPED = ("sql", "reports", "sample_data")


@pytest.fixture(scope="session")
def wheel(tmp_path_factory):
    """The wheel, built from the tree by the project's own backend without a network."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True)
    return next(folder.glob("*.whl"))


def tracked(name: str) -> set[str]:
    listed = subprocess.run(["git", "ls-files", name], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return set(listed.split())


@pytest.mark.parametrize("name", SHIPPED)
def test_the_wheel_ships_the_tracked_files(wheel, name):
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout, so there is no list of tracked files to compare with")
    prefix = "pipeline/_shipped/"
    packed = {entry.removeprefix(prefix) for entry in zipfile.ZipFile(wheel).namelist() if entry.startswith(prefix)}
    assert {entry for entry in packed if entry.startswith(f"{name}/")} == tracked(name)


@pytest.mark.parametrize("name", SHIPPED)
def test_no_python_file_lies_in_a_shipped_folder(name):
    assert list((ROOT / name).rglob("*.py")) == []


def test_the_command_runs_from_the_wheel_alone(wheel, tmp_path):
    """In a new environment that sees the packages of this one but not the checkout."""
    home = tmp_path / "environment"
    venv.create(home, system_site_packages=False, with_pip=False)
    site = next((home / "lib").glob("python*/site-packages")) if os.name != "nt" else home / "Lib" / "site-packages"
    zipfile.ZipFile(wheel).extractall(site)
    dependencies = [path for path in sys.path if path.endswith("site-packages")]
    (site / "dependencies.pth").write_text("\n".join(dependencies), encoding="utf-8")
    python = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    clinic = tmp_path / "clinic"
    run = subprocess.run(
        [python, "-c", f"import sys; sys.path[:] = [p for p in sys.path if p != {str(ROOT)!r}];"
         "from pipeline.cli import main; sys.exit(main(sys.argv[1:]))", "start", str(clinic)],
        cwd=tmp_path, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": ""},
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert (clinic / "clinic.toml").is_file()
    found = subprocess.run(
        [python, "-c", "from pipeline.shipped import folder; from pipeline.figures.theme import library;"
         "print(folder('sql')); print(library()[:60])"],
        cwd=tmp_path, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": ""},
    )  # fmt: skip
    place, chart_library = found.stdout.strip().split("\n", 1)
    assert Path(place).is_relative_to(home)
    assert "plotly.js (basic - minified)" in chart_library
