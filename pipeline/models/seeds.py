"""Thresholds, factors and their sources: rows of sql/seeds/, with what clinic.toml puts in their place.

Each seed file becomes a table seed_<file>. A row that the clinic's settings changed says so in
its source column, so that a page can print what was used.
"""

import csv

from pipeline import schema
from pipeline.database import write_rows
from pipeline.errors import SettingsFault
from pipeline.settings import FILE, Settings, unknown_key
from pipeline.shipped import folder

OURS = "clinic.toml"

# Seed columns that are not text.
NUMBERS = {
    "val", "over_kg", "upto_kg", "above", "below", "at_most", "at_least", "depth_from", "low", "high",
    "vapor_ml_per_liquid_ml", "density_g_ml", "gwp100", "concentration_mg_ml", "pack_ml",
    "full_l", "full_psi", "factor", "quantile",
}  # fmt: skip
INTEGERS = {"rank", "position"}


def read_seed(name: str) -> list[dict]:
    """Rows of sql/seeds/<name>.csv; an empty cell is None, numbers are numbers."""
    path = folder("sql") / "seeds" / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        return [{column: _cell(column, text) for column, text in row.items()} for row in csv.DictReader(lines)]


def _cell(column: str, text: str):
    if text == "":
        return None
    if column in NUMBERS:
        return float(text)
    return int(text) if column in INTEGERS else text


def seed_names() -> list[str]:
    """Names of all seed files; those of the intake's words are read there."""
    found = sorted(path.stem for path in (folder("sql") / "seeds").glob("*.csv"))
    return [name for name in found if not name.startswith("words_")]


def load_seeds(db, settings: Settings) -> None:
    """Writes every seed table, overrides applied. Raises SettingsFault for an override we do not know."""
    changed = {
        "windows": windows(settings),
        "limits": limits(settings),
        "plausibility": plausibility(settings),
        "temperature": temperature(settings),
    }
    for name in seed_names():
        _write(db, f"seed_{name}", changed.get(name) or read_seed(name))
    write_rows(db, "seed_events", {"event": "VARCHAR"}, [(event,) for event in schema.EVENTS])
    write_rows(db, "seed_hypnotics", {"drug": "VARCHAR"}, [(drug,) for drug in settings.recovery.hypnotics])
    write_rows(
        db,
        "seed_items",
        {
            "item": "VARCHAR",
            "drug": "VARCHAR",
            "concentration_mg_ml": "DOUBLE",
            "pack_ml": "DOUBLE",
            "control": "VARCHAR",
        },  # fmt: skip
        [(name, one.drug, one.concentration_mg_ml, one.pack_ml, one.control) for name, one in settings.items.items()],
    )
    recorded = settings.events.recorded
    sites = recorded if isinstance(recorded, list) else []
    write_rows(
        db,
        "seed_event_recording",
        {"everywhere": "BOOLEAN", "site": "VARCHAR", "from_day": "DATE"},
        [(recorded is True, None, settings.events.from_), *((False, site, settings.events.from_) for site in sites)],
    )


def windows(settings: Settings) -> list[dict]:
    """Scalars: [windows] and [artefacts] by name, and the settings with a table of their own."""
    rows = read_seed("windows")
    given = {
        "assume_alive": float(settings.deaths.assume_alive),
        "absorbent_max_hours": settings.absorbent.max_hours,
        "absorbent_max_days": settings.absorbent.max_days,
        "absorbent_minutes_per_mark": settings.absorbent.minutes_per_mark,
        "absorbent_grams": settings.absorbent.grams,
    }
    known = {row["name"]: row for row in rows}
    for table, chosen in (("windows", settings.windows), ("artefacts", settings.artefacts)):
        for name, value in chosen.items():
            if table == "artefacts" and isinstance(value, dict):
                continue
            if name not in known:
                raise unknown_key(f"{table}.{name}", [f"{table}.{key}" for key in known], FILE)
            given[name] = _number(value, f"{table}.{name}")
    for name, value in given.items():
        if value is not None and value != known[name]["val"]:
            known[name].update(val=value, source=OURS)
    return rows


def limits(settings: Settings) -> list[dict]:
    """[limits.MEASURE] SPECIES = [{parameter, above, below, at_most, over_kg, upto_kg, source}, ...]
    takes the place of all rows of that measure and species."""
    rows = read_seed("limits")
    measures = sorted({row["measure"] for row in rows})
    for measure, by_species in settings.limits.items():
        if measure not in measures:
            raise unknown_key(f"limits.{measure}", [f"limits.{name}" for name in measures], FILE)
        shipped = [row for row in rows if row["measure"] == measure]
        for species, given in _table(by_species, f"limits.{measure}").items():
            where = f"limits.{measure}.{species}"
            if species not in schema.SPECIES:
                raise unknown_key(where, [f"limits.{measure}.{name}" for name in schema.SPECIES], FILE)
            rows = [row for row in rows if (row["measure"], row["species"]) != (measure, species)]
            for one in given if isinstance(given, list) else [given]:
                rows.append(_limit(measure, species, _table(one, where), shipped, where))
    return rows


def _limit(measure: str, species: str, given: dict, shipped: list[dict], where: str) -> dict:
    for name in given:
        if name not in shipped[0]:
            raise unknown_key(f"{where}.{name}", [f"{where}.{key}" for key in shipped[0]], FILE)
    parameter = given.get("parameter", shipped[0]["parameter"])
    ranks = {row["parameter"]: row["rank"] for row in shipped}
    if parameter not in ranks:
        raise unknown_key(f"{where}.parameter {parameter}", sorted(ranks), FILE)
    edges = {name: given.get(name) for name in ("above", "below", "at_most", "over_kg", "upto_kg")}
    edges = {name: None if edge is None else _number(edge, f"{where}.{name}") for name, edge in edges.items()}
    if edges["over_kg"] is not None or edges["upto_kg"] is not None:
        edges["over_kg"], edges["upto_kg"] = edges["over_kg"] or 0.0, edges["upto_kg"] or 1000.0
    depth = next((edges[name] for name in ("below", "at_most", "above") if edges[name] is not None), None)
    if depth is None:
        raise SettingsFault(where=f"{FILE}, {where}", found="no limit", wanted="above, below or at_most",
                            fix="give the limit, such as below = 65")  # fmt: skip
    return {"measure": measure, "parameter": parameter, "rank": ranks[parameter], "species": species, **edges,
            "depth_from": depth, "source": given.get("source", OURS)}  # fmt: skip


def plausibility(settings: Settings) -> list[dict]:
    """[artefacts.PARAMETER] SPECIES = [low, high] takes the place of that row's bounds."""
    rows = read_seed("plausibility")
    known = sorted({row["parameter"] for row in rows})
    for parameter, by_species in settings.artefacts.items():
        if not isinstance(by_species, dict):
            continue
        if parameter not in known:
            raise unknown_key(f"artefacts.{parameter}", [f"artefacts.{name}" for name in known], FILE)
        for species, bounds in by_species.items():
            where = f"artefacts.{parameter}.{species}"
            if not (isinstance(bounds, list) and len(bounds) == 2):
                raise SettingsFault(where=f"{FILE}, {where}", found=repr(bounds), wanted="[low, high]",
                                    fix=f"write {species} = [25, 43]")  # fmt: skip
            low, high = (_number(edge, where) for edge in bounds)
            rows = [row for row in rows if (row["parameter"], row["species"] or row["agent"]) != (parameter, species)]
            dial = parameter == "vaporizer_setting"
            rows.append({"parameter": parameter, "species": None if dial else species,
                         "agent": species if dial else None, "low": low, "high": high, "source": OURS})  # fmt: skip
    return rows


def temperature(settings: Settings) -> list[dict]:
    """[temperature.BAND] at_least, below, at_most, above, in °C, for every species of the scheme."""
    rows = read_seed("temperature")
    bands = sorted({row["measure"] for row in rows})
    for band, edges in settings.temperature.items():
        if band not in bands:
            raise unknown_key(f"temperature.{band}", [f"temperature.{name}" for name in bands], FILE)
        for name, edge in _table(edges, f"temperature.{band}").items():
            if name not in ("at_least", "below", "at_most", "above"):
                raise unknown_key(f"temperature.{band}.{name}", ["at_least", "below", "at_most", "above"], FILE)
            for row in rows:
                if row["measure"] == band:
                    row.update({name: _number(edge, f"temperature.{band}.{name}"), "source": OURS})
    return rows


def _number(value, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SettingsFault(where=f"{FILE}, {where}", found=repr(value), wanted="a number", fix="correct the value")
    return float(value)


def _table(value, where: str) -> dict:
    if not isinstance(value, dict):
        raise SettingsFault(where=f"{FILE}, {where}", found=repr(value), wanted="a [table]", fix="correct the value")
    return value


def _write(db, table: str, rows: list[dict]) -> None:
    kinds = {name: "DOUBLE" if name in NUMBERS else "BIGINT" if name in INTEGERS else "VARCHAR" for name in rows[0]}
    write_rows(db, table, kinds, [tuple(row[name] for name in kinds) for row in rows])
