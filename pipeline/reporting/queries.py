"""Runs a SELECT of sql/pages/ over the case-level tables."""

from pipeline.shipped import folder


def rows(db, name: str, **given) -> list[dict]:
    """The rows of sql/pages/NAME.sql as dicts; given: its $parameters."""
    found = _found(db, name, given)
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def frame(db, name: str, **given):
    """The same as a pandas DataFrame, for the many rows of case by case."""
    return _found(db, name, given).df()


def _found(db, name: str, given: dict):
    sql = (folder("sql") / "pages" / f"{name}.sql").read_text(encoding="utf-8")
    return db.execute(sql, given) if given else db.execute(sql)
