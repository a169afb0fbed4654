"""rounds pool: a site's canonical tables as Parquet, for a group that computes over many sites.

Layout: DEST/<table>/site=<site>/month=<YYYY-MM>/part.parquet. A row goes by the site and month of its case; what
belongs to no case goes by its own time. Every column that schema.py marks personal is hashed with the clinic's key;
ids of cases, machines, animals and stock items get the site in front, since two sites number alike. Rows that a check
set aside stay at home; of quarantined cases only site and month go along, for a month that lacks too many is not
complete. Writing again replaces exactly the partitions this clinic wrote before: the manifest beside them says which.
Thresholds and factors are the group's own, from its clinic.toml; what a site states of itself goes along.
"""

import json
import shutil
from pathlib import Path

from pipeline import schema
from pipeline.errors import SettingsFault
from pipeline.intake.identity import pseudonym
from pipeline.settings import Settings
from pipeline.stock.items import write_items
from pipeline.training import programme

QUARANTINED = "quarantined"

# What each site states of itself: its shelf, whether it charts complications, its trainees. A group reads all of them.
STATED = {
    "seed_items": "SELECT * REPLACE ({home} || ':' || item AS item) FROM seed_items ORDER BY item",
    "seed_stock_items": "SELECT * REPLACE ({home} || ':' || item AS item) FROM seed_stock_items ORDER BY item",
    "seed_event_recording": """
        SELECT false AS everywhere, sites.pool_site AS site, from_day
        FROM seed_event_recording, (SELECT DISTINCT pool_site FROM pooled_cases) AS sites WHERE everywhere
        UNION ALL
        SELECT false, site, from_day FROM seed_event_recording WHERE NOT everywhere AND site IS NOT NULL
        ORDER BY ALL""",
    "programme_trainees": "SELECT * FROM pooled_trainees ORDER BY person",
}

# The time by which a row without a case finds its month.
OWN_TIME = {"equipment": "at", "stock": "at"}

NUMBERED_ALIKE = ("case_id", "machine_id", "patient_id", "item")


def pool(db, settings: Settings, key: bytes, dest: Path) -> dict[str, int]:
    """Writes every canonical table of one clinic below dest; returns rows a table. key: the clinic's hashing key.

    The clinic's name stands for cases without a site, and for equipment and stock where there are several sites.
    Needs models.prepare to have run. Raises SettingsFault for a name that cannot be one of a folder.
    """
    sites = [row[0] for row in db.execute("SELECT DISTINCT site FROM cases WHERE site IS NOT NULL").fetchall()]
    home = sites[0] if len(sites) == 1 else settings.name
    if not home or "/" in home or "=" in home:
        raise SettingsFault(where="clinic.toml, name", found=repr(home), wanted="a name without / and =",
                            fix="give every case a site, or the clinic a plain name")  # fmt: skip
    db.execute("""
        CREATE OR REPLACE TEMP TABLE pooled_cases AS
        SELECT case_id, coalesce(site, $home) AS pool_site,
            strftime(coalesce(induction_at, intubation_at, vaporizer_on_at), '%Y-%m') AS month
        FROM cases
    """, {"home": home})  # fmt: skip
    _hash(db, settings, key)
    written, rows = [], {}
    for table in schema.TABLES.values():
        rows[table.name] = _write(db, table, home, dest / table.name, written)
    _copy(
        db,
        f"SELECT table_name, month_no, coalesce(site, {_text(home)}) AS site FROM quarantine "
        "WHERE table_name = 'cases' ORDER BY ALL",
        dest / QUARANTINED / f"{home}.parquet",
    )
    _stated(db, settings, home, dest)
    _forget(dest, home, written)
    return rows


def _hash(db, settings: Settings, key: bytes) -> None:
    """Writes pooled_names(name, hashed): everybody and every animal that a personal column or the programme names."""
    everywhere = " UNION ".join(
        f'SELECT "{column.name}" FROM {table.name}'
        for table in schema.TABLES.values()
        for column in table.columns
        if column.personal
    )
    found = {row[0] for row in db.execute(everywhere).fetchall()} | set(programme.read(settings.programme).trainees)
    names = sorted(found - {None})
    db.execute(
        "CREATE OR REPLACE TEMP TABLE pooled_names AS SELECT unnest($names) AS name, unnest($hashed) AS hashed",
        {"names": names, "hashed": [pseudonym(key, name) for name in names]},
    )


def _write(db, table: schema.Table, home: str, folder: Path, written: list[str]) -> int:
    by_case = table.name == "cases" or table.name in schema.CHILD_TABLES
    place = "pooled_cases.pool_site" if by_case else _text(home)
    month = "pooled_cases.month" if by_case else f"strftime(t.\"{OWN_TIME[table.name]}\", '%Y-%m')"
    join = "JOIN pooled_cases ON pooled_cases.case_id = t.case_id" if by_case else ""
    stated = {column.name: column for column in table.columns}
    columns = ", ".join(_column(name, stated.get(name), place) for name, _ in schema.stored_columns(table))
    db.execute(f"""
        CREATE OR REPLACE TEMP TABLE pooled_rows AS
        SELECT {columns}, {place} AS pool_site, coalesce({month}, 'unknown') AS pool_month
        FROM {table.name} AS t {join}
        LEFT JOIN set_aside_rows AS aside ON aside.table_name = '{table.name}'
            AND aside.source_file = t.source_file AND aside.source_row = t.source_row
        WHERE aside.rule_id IS NULL
    """)
    parts = db.execute("SELECT DISTINCT pool_site, pool_month FROM pooled_rows ORDER BY ALL").fetchall()
    for site, month in parts:
        path = folder / f"site={site}" / f"month={month}" / "part.parquet"
        _copy(
            db,
            "SELECT * EXCLUDE (pool_site, pool_month) FROM pooled_rows "
            f"WHERE pool_site = {_text(site)} AND pool_month = {_text(month)} ORDER BY ALL",
            path,
        )
        written.append(str(path.parent.relative_to(folder.parent)))
    return db.execute("SELECT count(*) FROM pooled_rows").fetchone()[0]


def _column(name: str, column: schema.Column | None, place: str) -> str:
    """One stored column as it goes into the pool; column is None for a clock and for where a row stood."""
    if name == "site":
        return f'{place} AS "site"'
    value = f't."{name}"'
    if column and column.personal:
        value = f"(SELECT hashed FROM pooled_names WHERE pooled_names.name = {value})"
    if column and column.kind == "text" and name in NUMBERED_ALIKE:
        value = f"{place} || ':' || {value}"
    return f'{value} AS "{name}"'


def _stated(db, settings: Settings, home: str, dest: Path) -> None:
    write_items(db, settings)
    db.execute(
        "CREATE OR REPLACE TEMP TABLE pooled_trainees "
        "(person VARCHAR, start_day DATE, year_at_start BIGINT, leaves_day DATE)"
    )
    for one in programme.read(settings.programme).trainees.values():
        db.execute(
            "INSERT INTO pooled_trainees VALUES ((SELECT hashed FROM pooled_names WHERE name = ?), ?, ?, ?)",
            [one.person, one.start, one.year, one.leaves],
        )
    for name, select in STATED.items():
        _copy(db, select.format(home=_text(home)), dest / name / f"{home}.parquet")


def _copy(db, select: str, path: Path) -> None:
    """Writes the rows as Parquet, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(path.name + ".new")
    db.execute(f"COPY ({select}) TO {_text(str(unfinished))} (FORMAT parquet)")
    unfinished.replace(path)


def _forget(dest: Path, home: str, written: list[str]) -> None:
    """Removes the partitions that an earlier pool of this clinic wrote and this one did not."""
    manifest = dest / "manifests" / f"{home}.json"
    before = json.loads(manifest.read_text(encoding="utf-8")) if manifest.exists() else []
    for part in set(before) - set(written):
        shutil.rmtree(dest / part, ignore_errors=True)
    manifest.parent.mkdir(parents=True, exist_ok=True)
    manifest.write_text(json.dumps(sorted(written), indent=0), encoding="utf-8")


def _text(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"
