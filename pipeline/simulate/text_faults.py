"""Faults that only text can hold, written into finished files: cells no program reads, rows twice,
rows that disagree, readings of a case nobody knows."""

from collections import Counter
from pathlib import Path

BAD_VALUES = ("n/a", "98%", "1O2", "--", "7 2", "36,8", "?", "ca. 60")


def spoil_vitals(path: Path, rng, orphans: bool) -> Counter:
    """A bad cell, rows written twice, two rows that disagree and, if asked, a mistyped case number.

    path: a file of readings, one a row.
    """
    lines = path.read_text(encoding="utf-8").splitlines()
    counts, n = Counter(), len(lines) - 1
    if n < 500:
        return counts
    bad = 1 + int(rng.integers(n))
    lines[bad] = lines[bad].rsplit(",", 1)[0] + f",{_quoted(BAD_VALUES[int(rng.integers(len(BAD_VALUES)))])}"
    counts["cell that cannot be read"] += 1
    twice = [1 + int(row) for row in rng.integers(n, size=3)]
    at = 1 + int(rng.integers(n))
    front, value = lines[at].rsplit(",", 1)
    other = f"{float(value) - 3:g}" if value.isdigit() and float(value) > 30 else f"{value}1"
    disagrees = None if at == bad else f"{front},{other}"
    if orphans:
        first = lines[1 + int(rng.integers(n))].split(",", 1)[0]
        rows = [row for row, line in enumerate(lines) if line.startswith(f"{first},")][:24]
        for row in rows:
            lines[row] = f"{first[:-4]}9{first[-3:]}" + lines[row][len(first) :]
        counts["reading of an unknown case"] += len(rows)
    lines += [lines[row] for row in twice if row != bad]
    counts["row twice"] += len(lines) - 1 - n
    if disagrees:
        lines.append(disagrees)
        counts["rows that disagree"] += 1
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    return counts


def spoil_cells(path: Path, wanted: list[tuple[str, str]], rng) -> Counter:
    """In each of some rows one cell of a column becomes a text: wanted holds (column, text); then one
    row twice and one row that disagrees about its weight."""
    lines = path.read_text(encoding="utf-8").splitlines()
    header = lines[0].split(",")
    if len(lines) < 60:
        return Counter()
    rows = [1 + int(row) for row in rng.choice(len(lines) - 1, len(wanted) + 2, replace=False)]
    for row, (column, text) in zip(rows, wanted, strict=False):
        cells = lines[row].split(",")
        cells[header.index(column)] = _quoted(text)
        lines[row] = ",".join(cells)
    again, disputed = rows[-2:]
    cells = lines[disputed].split(",")
    weight = header.index("weight_kg")
    cells[weight] = f"{float(cells[weight] or 5) + 0.6:g}"
    lines += [lines[again], ",".join(cells)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    return Counter({"cell that cannot be read": len(wanted), "row twice": 1, "rows that disagree": 1})


def _quoted(text: str) -> str:
    return f'"{text}"' if "," in text else text
