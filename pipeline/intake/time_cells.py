"""Times that are not plain: zones named in the cell, day-first dates, spreadsheet day numbers, dates alone."""

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake import words, zones
from pipeline.intake.arrays import encoded
from pipeline.intake.findings import Finding, Typed
from pipeline.intake.grid import Odd
from pipeline.intake.number_cells import _sql
from pipeline.intake.plain import ask
from pipeline.intake.word_cells import BLANKS

# Columns where a date alone says enough; elsewhere the time of day is what counts.
DAY_ENOUGH = {("cases", "outcome_at"), ("cases", "followed_until"), ("equipment", "at"), ("stock", "at")}
CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,6})\d*)?)?\s*(?i:([ap])\.?m\.?)?"
SLASHED = r"(\d{1,2})/(\d{1,2})/(\d{4}|\d{2})"
DOTTED = r"(\d{1,2})\.(\d{1,2})\.(\d{4}|\d{2})"
YEAR_FIRST = r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})"
ZONE = r"(?i:Z|UTC|[+-]\d{2}(?::?\d{2})?)"
GAP = r"(?:T|,?\s+)"


def decide_order(db, texts: list[pa.Array], fixed: str | None, where: str) -> str:
    """Which way round a file writes dates with slashes: 'dmy', 'mdy', or '' where it has none. Raises RefusedFile.

    texts: of all its time columns; fixed: what the mapping says.
    """
    if fixed in ("dmy", "mdy"):
        return fixed
    if not any(len(one) for one in texts):
        return ""
    every = pa.chunked_array([one.cast(pa.string()) for one in texts] or [pa.array([], pa.string())])
    answer = ask(
        db,
        rf"""
        SELECT count(*) FILTER (first > 12) AS dmy, count(*) FILTER (second > 12) AS mdy, count(*) AS n,
          min(text) AS one
        FROM (SELECT text, TRY_CAST(regexp_extract(text, '{SLASHED}', 1) AS INT) AS first,
                     TRY_CAST(regexp_extract(text, '{SLASHED}', 2) AS INT) AS second
              FROM cells WHERE regexp_matches(text, '^\s*{SLASHED}\b'))
        """,
        cells=pa.table({"text": every}),
    ).to_pylist()[0]
    if answer["n"] and bool(answer["dmy"]) == bool(answer["mdy"]):
        raise RefusedFile(
            where=where,
            found=f"dates such as {answer['one']!r}, "
            + ("some day first and some month first" if answer["dmy"] else "none with a day over 12 to tell the order"),
            wanted="to know whether the day or the month comes first",
            fix='say dates = "dmy" or dates = "mdy" for this file in mapping.toml, or export dates as 2025-03-06',
        )
    if not answer["n"]:
        return ""
    return "mdy" if answer["mdy"] else "dmy"


def type_times(
    db, table: str, column: schema.Column, values: pa.Array, odd: Odd, order: str, zone: str
) -> tuple[Typed, dict[str, np.ndarray]]:
    """The column with its odd cells read by rule, and {'positions', 'seconds'} (UTC) of cells that name a zone."""
    if not len(odd.positions):
        return Typed(values), {}
    codes, distinct = encoded(odd.texts)
    read = _read(db, table, column, distinct, order)
    positions = odd.positions.to_numpy(zero_copy_only=False)
    local = read.column("local_us").to_numpy(zero_copy_only=False).astype("float64")
    utc = read.column("utc_us").to_numpy(zero_copy_only=False).astype("float64")
    zoned = ~np.isnan(utc)
    exact = np.where(zoned, utc, 0).astype("int64")
    shifted = zones.to_local(exact // 1_000_000, zone) * 1_000_000 + exact % 1_000_000
    stamps = np.where(zoned, shifted, np.nan_to_num(local)).astype("int64")
    known = np.append(zoned | ~np.isnan(local), False)
    new = pa.array(np.append(stamps, 0)[codes], mask=~known[codes]).cast(pa.timestamp("us"))
    mask = np.zeros(len(values), bool)
    mask[positions] = True
    values = pc.replace_with_mask(values, pa.array(mask), new)
    findings = []
    rules = np.array([*read.column("rule").to_pylist(), None], object)
    kinds = np.array([*read.column("kind").to_pylist(), None], object)
    for rule, kind in sorted({(rule, kind) for rule, kind in zip(rules, kinds, strict=True) if rule}):
        hit = np.flatnonzero(((rules == rule) & (kinds == kind))[codes])
        findings.append(Finding(rule, kind, column.name, positions[hit], distinct.take(pa.array(codes[hit]))))
    named = np.flatnonzero(np.append(zoned, False)[codes])
    clocks = {"positions": positions[named], "seconds": (np.append(exact, 0)[codes[named]]) // 1_000_000}
    return Typed(values, findings), clocks if len(named) else {}


def _read(db, table: str, column: schema.Column, distinct: pa.Array, order: str) -> pa.Table:
    """local_us, utc_us (one of them, or neither), rule, kind of each distinct odd text."""
    missing = ", ".join(f"'{_sql(word)}'" for word in sorted(words.missing()) + [""])
    errors = ", ".join(f"'{_sql(word)}'" for word in sorted(words.of_kind("error")))
    day_alone = "A" if (table, column.name) in DAY_ENOUGH else "Q" if column.required else "W"
    day, month = (2, 1) if order == "mdy" else (1, 2)
    clock = rf"{GAP}{CLOCK}"

    def date(shape, year, month, day):
        century = "CASE WHEN length(y) = 2 THEN '20' || y ELSE y END"
        return f"""(SELECT {century} || '-' || lpad(m, 2, '0') || '-' || lpad(d, 2, '0') FROM (SELECT
                   regexp_extract(cell, '^{shape}', {year}) AS y, regexp_extract(cell, '^{shape}', {month}) AS m,
                   regexp_extract(cell, '^{shape}', {day}) AS d))"""

    return ask(
        db,
        rf"""
        WITH cells AS (
          SELECT row_number() OVER () AS n, text, regexp_replace(trim(text, '{_sql(BLANKS)}'), '\s+', ' ', 'g') AS cell
          FROM texts),
        parts AS (
          SELECT *,
            CASE
              WHEN regexp_matches(cell, '^{YEAR_FIRST}') THEN {date(YEAR_FIRST, 1, 2, 3)}
              WHEN regexp_matches(cell, '^{DOTTED}') THEN {date(DOTTED, 3, 2, 1)}
              WHEN regexp_matches(cell, '^{SLASHED}') THEN {date(SLASHED, 3, month, day)}
            END AS day,
            NOT regexp_matches(cell, '^{YEAR_FIRST}') AS other_format,
            regexp_replace(cell, '^({YEAR_FIRST}|{DOTTED}|{SLASHED})', '') AS tail
          FROM cells),
        clocked AS (
          SELECT *,
            tail = '' AS day_only,
            regexp_full_match(tail, '{clock}\s*{ZONE}') AS zoned,
            regexp_full_match(tail, '{clock}(\s*{ZONE})?') AS timed,
            regexp_extract(tail, '^{clock}', 1) AS hour, lower(regexp_extract(tail, '^{clock}', 5)) AS half,
            regexp_extract(tail, '^{clock}', 2) AS minute, regexp_extract(tail, '^{clock}', 3) AS second,
            regexp_extract(tail, '^{clock}', 4) AS fraction, regexp_extract(tail, '({ZONE})$', 1) AS zone
          FROM parts),
        stamps AS (
          SELECT *,
            CASE WHEN half <> '' AND TRY_CAST(hour AS INT) BETWEEN 1 AND 12
                 THEN TRY_CAST(hour AS INT) % 12 + CASE half WHEN 'p' THEN 12 ELSE 0 END
                 WHEN half = '' THEN TRY_CAST(hour AS INT) END AS hour24
          FROM clocked),
        read AS (
          SELECT *,
            CASE WHEN timed THEN TRY_CAST(day || ' ' || lpad(hour24::VARCHAR, 2, '0') || ':' || minute || ':'
                   || CASE WHEN second = '' THEN '00' ELSE second END
                   || CASE WHEN fraction = '' THEN '' ELSE '.' || fraction END AS TIMESTAMP)
                 WHEN day_only THEN TRY_CAST(day || ' 00:00:00' AS TIMESTAMP)
                 WHEN regexp_full_match(cell, '[2-5]\d{{4}}([.,]\d+)?')
                 THEN make_timestamp(((replace(cell, ',', '.')::DOUBLE - 25569) * 86400)::BIGINT * 1000000)
            END AS stamp,
            CASE WHEN zoned THEN CASE WHEN upper(zone) IN ('Z', 'UTC') THEN 0
                 ELSE (CASE WHEN zone[1] = '-' THEN -1 ELSE 1 END)
                   * (zone[2:3]::INT * 3600
                      + coalesce(TRY_CAST(right(replace(zone, ':', '')[4:], 2) AS INT), 0) * 60) END
            END AS offset_s
          FROM stamps)
        SELECT
          CASE WHEN NOT coalesce(zoned, false) AND NOT (coalesce(day_only, false) AND '{day_alone}' <> 'A')
               THEN epoch_us(stamp) END AS local_us,
          CASE WHEN zoned THEN epoch_us(stamp) - offset_s::BIGINT * 1000000 END AS utc_us,
          CASE
            WHEN lower(cell) IN ({missing}) THEN NULL
            WHEN lower(cell) IN ({errors}) OR starts_with(cell, '=') THEN 'spreadsheet_error'
            WHEN stamp IS NULL THEN 'not_a_time'
            WHEN day_only AND day IS NOT NULL THEN 'date_without_time'
            WHEN zoned THEN 'time_with_zone'
            WHEN day IS NULL THEN 'spreadsheet_serial'
            WHEN other_format THEN 'other_date_format'
          END AS rule,
          CASE
            WHEN lower(cell) IN ({missing}) THEN NULL
            WHEN lower(cell) IN ({errors}) OR starts_with(cell, '=') THEN '{"Q" if column.required else "W"}'
            WHEN stamp IS NULL THEN 'Q'
            WHEN day_only AND day IS NOT NULL THEN '{day_alone}'
            WHEN zoned OR other_format AND day IS NOT NULL THEN 'A'
            WHEN day IS NULL THEN 'N'
          END AS kind
        FROM read ORDER BY n
        """,
        texts=pa.table({"text": distinct}),
    )
