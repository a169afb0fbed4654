"""A clinic folder to fill with exports, its database, and what must hold after any load."""

from pathlib import Path

from pipeline import intake
from pipeline.settings import Settings

CASES = """\
case_id,species,weight_kg,asa_class,induction_at,extubation_at
A1,dog,12.5,2,2025-03-06 08:15,2025-03-06 09:30
A2,cat,4.2,3,2025-03-06 10:15,2025-03-06 11:30
"""


class Clinic:
    """A clinic folder: put exports in it, load them, ask the database."""

    def __init__(self, folder: Path, db, **settings):
        self.folder, self.db = folder, db
        self.settings = Settings(zone="Europe/Berlin", **settings)
        self.exports = folder / "exports"
        self.exports.mkdir(exist_ok=True)

    def put(self, name: str, text: str | bytes, encoding: str = "utf-8") -> Path:
        path = self.exports / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    def load(self, *paths):
        receipt = intake.load(self.db, self.settings, self.folder, list(paths) or None)
        self.check_accounts()
        return receipt

    def load_text(self, name: str, text: str | bytes, encoding: str = "utf-8"):
        """Puts one file and loads it alone; returns its account."""
        receipt = self.load(self.put(name, text, encoding))
        assert not receipt.refused, receipt.refused
        return receipt.files[0]

    def ask(self, sql: str, *values):
        return self.db.execute(sql, list(values)).fetchall()

    def check_accounts(self):
        """What must hold after any load."""
        broken = self.ask(
            """SELECT name, lines, rows_read, rows_new, rows_unchanged, rows_replaced, rows_quarantined, rows_set_aside
               FROM files WHERE lines <> rows_read + rows_set_aside
               OR rows_read <> rows_new + rows_unchanged + rows_replaced + rows_quarantined"""
        )
        assert broken == []
        differing = self.ask(
            """SELECT f.name, f.rows_quarantined, count(q.file_id) FROM files AS f
               LEFT JOIN quarantine AS q ON q.file_id = f.file_id GROUP BY ALL
               HAVING f.rows_quarantined <> count(q.file_id)"""
        )
        assert differing == []


def counts(account) -> tuple[int, int, int, int, int, int]:
    """(read, new, unchanged, replaced, quarantined, set aside) of a file's account."""
    return (
        account.read,
        account.new,
        account.unchanged,
        account.replaced,
        account.quarantined,
        account.set_aside,
    )
