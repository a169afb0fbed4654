"""Published rates a clinic may compare with: rows of seed_published, each with its source and how it differs."""


def published(db, measure: str) -> list[dict]:
    """The published rows of a measure, as dicts; none where the table has none."""
    from pipeline.database import tables

    if "seed_published" not in tables(db):
        return []
    found = db.execute("SELECT * FROM seed_published WHERE measure = ? ORDER BY ALL", [measure])
    names = [column[0] for column in found.description]
    rows = [dict(zip(names, row, strict=True)) for row in found.fetchall()]
    return [row | {"cases": int(row["cases"]) if row["cases"] else None} for row in rows]
