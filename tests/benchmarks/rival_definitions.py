"""What both rivals are told: the clinic's settings, the limits and bounds of sql/seeds, and two formulas.

The rivals leave out absorbent and canisters, packs opened, log-rank tests, and observed against expected; the table
counts what they computed.
"""

import csv
import tomllib
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pipeline.schema import TABLES

CASE_COLUMNS = ("site", "species", "asa_class", "emergency", "agent", "ventilation", "breathing_system",
                "procedure_group", "machine_id", "trainee", "trainee_role", "supervisor")  # fmt: skip
BY_ASA = ("asa_class", "asa_class x species")
OXYGEN_BY = ("all", "asa_class", "species", "machine_id")
AGREEMENT = ("hypoventilation", "hyperventilation", "hypoxemia", "hypotension", "hypothermia", "bradycardia",
             "tachycardia")  # fmt: skip
TRENDS = ("complication", "death_48h", "hypothermia", "hypoventilation", "hypotension")
STAGES = {"to_extubation": "extubation_at", "to_sternal": "sternal_at", "to_standing": "standing_at",
          "to_handover": "recovery_end_at"}  # fmt: skip
QUANTILES = {"_q1": 0.25, "": 0.5, "_q3": 0.75}
NO = "not recorded"
COLUMNS = ["measure", "period", "by", "level", "n", "numerator", "denominator", "value", "low", "high"]

# seconds; readings; share of the window
HOLD_MAX, SUSTAIN, CHARTING_GAP, DEATH_WINDOW, PROLONGED = 600, 300, 600, 48 * 3600, 30
MIN_READINGS, DISCONNECTED_RUN, MIN_COVERAGE = 2, 2, 0.5
DISCONNECTED_MAX, PLACED_MIN, COLD, LEAK_MAX = 5, 30, 36.5, 300
Z = 1.959963984540054  # 97.5 % of the standard normal

SEEDS = Path(__file__).parents[2] / "sql" / "seeds"


def seed(name: str) -> list[dict]:
    """Rows of a table of sql/seeds; numbers as numbers, empty cells None."""
    with (SEEDS / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return [{key: _cell(value) for key, value in row.items()} for row in csv.DictReader(lines)]


def _cell(text: str):
    try:
        return float(text)
    except ValueError:
        return text or None


LIMITS, BOUNDS, BANDS = seed("limits"), seed("plausibility"), seed("temperature")
WEIGHT_BANDS, AGENTS = seed("weight_bands"), {row["agent"]: row for row in seed("agents")}
EXPOSURES = tuple(dict.fromkeys(row["measure"] for row in LIMITS))
LIMITED = tuple(dict.fromkeys(row["parameter"] for row in LIMITS))
EVENTS = tuple(code for code in TABLES["events"].column("event").codes if code != "other")
# parameter: the exposure measures it decides; of a measure with two parameters, in the order of their rank
MEASURES_OF = {name: dict.fromkeys(row["measure"] for row in LIMITS if row["parameter"] == name) for name in LIMITED}


class Clinic(NamedTuple):
    """folder: of the exports; strengths: {drug: mg/mL}, packs: {drug: mL}, where all of a drug's items agree."""

    exports: Path
    zone: str
    recorded: bool
    recorded_from: str | None
    assume_alive: bool
    hypnotics: list[str]
    strengths: dict[str, float]
    packs: dict[str, float]


def clinic(folder: Path) -> Clinic:
    given = tomllib.loads((folder / "clinic.toml").read_text(encoding="utf-8"))
    events, items = given.get("events", {}), list(given.get("items", {}).values())
    began = events.get("from")
    return Clinic(
        folder / "exports",
        given["zone"],
        events.get("recorded") is True,
        None if began is None else str(began),
        given.get("deaths", {}).get("assume_alive", True),
        given.get("recovery", {}).get("hypnotics", ["propofol", "alfaxalone"]),
        _agreed(items, "concentration_mg_ml"),
        _agreed(items, "pack_ml"),
    )


def _agreed(items: list[dict], name: str) -> dict[str, float]:
    stated: dict[str, set] = {}
    for item in items:
        if name in item and "drug" in item:
            stated.setdefault(item["drug"], set()).add(float(item[name]))
    return {drug: found.pop() for drug, found in stated.items() if len(found) == 1}


def kinds(table: str) -> dict[str, str]:
    """{column: text, number or time} of a table's CSV, in the schema's names."""
    plain = {"number": "number", "integer": "text", "time": "time"}
    return {column.name: plain.get(column.kind, "text") for column in TABLES[table].columns}


def month_text(number: int) -> str:
    return f"{number // 12:04d}-{number % 12 + 1:02d}"


def wilson(events: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Wilson score interval without continuity correction; NaN at n = 0, exactly 0 and 1 at the ends."""
    with np.errstate(invalid="ignore", divide="ignore"):
        share = events / n
        middle = (share + Z * Z / (2 * n)) / (1 + Z * Z / n)
        half = Z / (1 + Z * Z / n) * np.sqrt(share * (1 - share) / n + Z * Z / (4 * n * n))
    low, high = np.where(events == 0, 0.0, middle - half), np.where(events == n, 1.0, middle + half)
    return np.where(n > 0, low, np.nan), np.where(n > 0, high, np.nan)


def trend(assessable: np.ndarray, having: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cochran-Armitage z and two-sided p from counts by ASA class, [groups, 5]; NaN where it is not defined."""
    from scipy.special import erfc

    scores, n, events = np.arange(1, 6), assessable.sum(axis=1), having.sum(axis=1)
    defined = ((assessable > 0).sum(axis=1) > 1) & (events > 0) & (events < n)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = events / n
        excess = (scores * having).sum(axis=1) - share * (scores * assessable).sum(axis=1)
        spread = (scores**2 * assessable).sum(axis=1) - (scores * assessable).sum(axis=1) ** 2 / n
        z = np.where(defined, excess / np.sqrt(share * (1 - share) * spread), np.nan)
    return z, np.where(defined, erfc(np.abs(z) / np.sqrt(2)), np.nan)
