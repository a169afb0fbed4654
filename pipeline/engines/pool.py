"""rounds pool: a site's canonical tables as Parquet, for a group that computes over many sites.

Layout: DEST/<table>/site=<site>/month=<YYYY-MM>/part.parquet. A row goes by the site and month of its case; what
belongs to no case goes by its own time. Ids of cases, machines and patients get the site in front, since two sites
number alike; patient ids are hashed already. Rows that a check set aside stay at home; of quarantined cases only site
and month go along, for a month that lacks too many is not complete. Writing again replaces exactly the partitions this
clinic wrote before: the manifest beside them says which.
"""

import json
import shutil
from pathlib import Path

from pipeline import schema
from pipeline.errors import SettingsFault

SEEDS = "seeds"
QUARANTINED = "quarantined"

# The time by which a row without a case finds its month.
OWN_TIME = {"equipment": "at", "stock": "at"}


def pool(db, name: str, dest: Path) -> dict[str, int]:
    """Writes every canonical table of one clinic below dest; returns rows a table. name: stands for cases
    without a site, and for equipment and stock. Needs models.prepare to have run."""
    sites = [row[0] for row in db.execute("SELECT DISTINCT site FROM cases WHERE site IS NOT NULL").fetchall()]
    fallback = sites[0] if len(sites) == 1 else name
    if not fallback or "/" in fallback or "=" in fallback:
        raise SettingsFault(where="clinic.toml, name", found=repr(fallback), wanted="a name without / and =",
                            fix="give every case a site, or the clinic a plain name")  # fmt: skip
    db.execute("""
        CREATE OR REPLACE TEMP TABLE pooled_cases AS
        SELECT case_id, coalesce(site, $name) AS pool_site,
            strftime(coalesce(induction_at, intubation_at, vaporizer_on_at), '%Y-%m') AS month
        FROM cases
    """, {"name": fallback})  # fmt: skip
    written, rows = [], {}
    for table in schema.TABLES.values():
        rows[table.name] = _write(db, table, fallback, dest / table.name, written)
    _quarantined(db, fallback, dest / QUARANTINED)
    _seeds(db, dest / SEEDS)
    _forget(dest, fallback, written)
    return rows


def _write(db, table: schema.Table, fallback: str, folder: Path, written: list[str]) -> int:
    by_case = table.name == "cases" or table.name in schema.CHILD_TABLES
    own = OWN_TIME.get(table.name)
    place = "pooled_cases.pool_site" if by_case else f"'{_quoted(fallback)}'"
    month = "pooled_cases.month" if by_case else f"strftime(t.\"{own}\", '%Y-%m')"
    join = "JOIN pooled_cases ON pooled_cases.case_id = t.case_id" if by_case else ""
    columns = ", ".join(_column(name, place) for name, _ in schema.stored_columns(table))
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
        part = folder / f"site={site}" / f"month={month}"
        part.mkdir(parents=True, exist_ok=True)
        db.execute(
            "COPY (SELECT * EXCLUDE (pool_site, pool_month) FROM pooled_rows "
            "WHERE pool_site = $site AND pool_month = $month ORDER BY ALL) TO $path (FORMAT parquet)",
            {"site": site, "month": month, "path": str(part / "part.parquet.new")},
        )
        (part / "part.parquet.new").replace(part / "part.parquet")
        written.append(str(part.relative_to(folder.parent)))
    return db.execute("SELECT count(*) FROM pooled_rows").fetchone()[0]


def _column(name: str, place: str) -> str:
    if name in ("case_id", "machine_id", "patient_id"):
        return f'{place} || \':\' || t."{name}" AS "{name}"'
    return f'{place} AS "site"' if name == "site" else f't."{name}"'


def _quarantined(db, fallback: str, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    db.execute(
        "COPY (SELECT table_name, month_no, coalesce(site, $site) AS site FROM quarantine "
        "WHERE table_name = 'cases' ORDER BY ALL) TO $path (FORMAT parquet)",
        {"site": fallback, "path": str(folder / f"{fallback}.parquet")},
    )


def _seeds(db, folder: Path) -> None:
    """The thresholds, factors and settings this clinic used; the last to write says what the group uses."""
    folder.mkdir(parents=True, exist_ok=True)
    names = db.execute(
        "SELECT table_name FROM information_schema.tables WHERE starts_with(table_name, 'seed_') ORDER BY ALL"
    ).fetchall()
    for (name,) in names:
        db.execute(f"COPY {name} TO $path (FORMAT parquet)", {"path": str(folder / f"{name}.parquet")})


def _forget(dest: Path, site: str, written: list[str]) -> None:
    """Removes the partitions that an earlier pool of this clinic wrote and this one did not."""
    manifest = dest / "manifests" / f"{site}.json"
    before = json.loads(manifest.read_text(encoding="utf-8")) if manifest.exists() else []
    for part in set(before) - set(written):
        shutil.rmtree(dest / part, ignore_errors=True)
    manifest.parent.mkdir(parents=True, exist_ok=True)
    manifest.write_text(json.dumps(sorted(written), indent=0), encoding="utf-8")


def _quoted(text: str) -> str:
    return text.replace("'", "''")
