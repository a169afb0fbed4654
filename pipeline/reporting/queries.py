"""Runs a SELECT of sql/pages/ over the case-level tables."""

from pipeline.shipped import folder


def rows(db, name: str, **given) -> list[dict]:
    """The rows of sql/pages/NAME.sql as dicts; given: its $parameters."""
    sql = (folder("sql") / "pages" / f"{name}.sql").read_text(encoding="utf-8")
    found = db.execute(sql, given) if given else db.execute(sql)
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]
