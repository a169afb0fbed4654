"""`rounds results --engine spark --master sc://...` through a Spark Connect server, and the group's page from it."""

import subprocess
import sys


def rounds(*arguments) -> None:
    """The command in a process of its own: one process of pyspark is either a client or a driver."""
    subprocess.run([sys.executable, "-m", "pipeline", *map(str, arguments)], check=True, capture_output=True)


def test_results_and_the_page_are_equal_byte_for_byte(connect, pooled, group, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "clinic.toml").write_bytes((group / "clinic.toml").read_bytes())
    ask = ("results", "--pool", pooled[0], "--format", "csv")
    rounds(*ask, "--out", group / "all", "--clinic", group, "--engine", "spark", "--master", connect)
    rounds(*ask, "--out", other / "all", "--clinic", other)
    assert (group / "all").read_bytes() == (other / "all").read_bytes()
    assert (other / "all").read_bytes().count(b"\n") > 1000
    for folder in (group, other):
        rounds("report", "--group", "--clinic", folder)
    written, same = (sorted((folder / "group" / "reports").rglob("*.html")) for folder in (group, other))
    assert [path.name for path in written] == ["index.html", "quality.html", "quality_summary.html"]
    for path, twin in zip(written, same, strict=True):
        assert path.read_bytes() == twin.read_bytes()
