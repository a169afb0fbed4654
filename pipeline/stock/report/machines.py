"""Absorbent, canisters, cylinders and leak tests: what is in use now, what is overdue, what the tests said."""

from datetime import date, timedelta

from pipeline.reporting.frame import Column, Section, Table
from pipeline.stock.report.view import YEAR, View

EPOCH = date(1970, 1, 1)
OVERDUE = {
    "absorbent_overdue": "case begun on overdue absorbent",
    "canister_overdue": "case begun on a spent canister",
    "leak_test_failed": "leak test failed",
}


def section(view: View) -> Section:
    items = [absorbent(view), canisters(view), shares(view), cylinders(view), let_through(view)]
    return Section(
        "machines",
        "Machines: absorbent, canisters, leaks",
        "What is in each machine now, what is overdue, and do the machines hold pressure?",
        [item for item in items if item] or ["No action on a machine is recorded."],
    )


def absorbent(view: View) -> Table | None:
    """The charge in each machine on the last day loaded."""
    rows = view.rows("SELECT * FROM absorbent_charges WHERE to_s IS NULL ORDER BY machine_id")
    if not rows:
        return None
    columns = [Column("Machine"), Column("Changed", "day"), Column("Age", "number", "d"), Column("Used", "number", "h"),
               Column("Marks", "count"), Column("Marks expected", "count"), Column("Carbon dioxide", "number", "L", 0),
               Column("Bound by the charge", "number", "L", 0), Column("Cases with inspired CO\u2082"),
               Column("Due", "nowrap")]  # fmt: skip
    cells = [
        [row["machine_id"], day_of(row["from_s"]), row["age_days"], row["used_hours"], row["marks"],
         row["marks_expected"], row["co2_l"], row["bound_l"], seen(row), "change now" if row["overdue"] else ""]
        for row in rows
    ]  # fmt: skip
    used = {row["name"]: row["val"] for row in view.rows("SELECT name, val FROM seed_windows")}
    note = (
        f"Carbon dioxide: {used['co2_output_ml_kg075_min']:g} x kg^0.75 mL a minute for as long as each patient of "
        f"known weight was on it; the charge binds about {used['co2_capacity_l_per_100g']:g} L a 100 g. It is a bound, "
        "not a rule for changing: hours and days decide, and inspired carbon dioxide is evidence whatever they say."
    )
    return Table("absorbent-now", "Absorbent in use now", columns, cells, note)


def canisters(view: View) -> Table | None:
    rows = view.rows("SELECT * FROM canister_charges WHERE to_s IS NULL ORDER BY machine_id")
    if not rows:
        return None
    columns = [Column("Machine"), Column("Changed", "day"), Column("Age", "number", "d"), Column("Used", "number", "h"),
               Column("Weighings", "count"), Column("Gain", "number", "g"), Column("Due", "nowrap")]  # fmt: skip
    cells = [[row["machine_id"], day_of(row["from_s"]), row["age_days"], row["used_hours"], row["weighed"],
              row["gain_g"], "change now" if row["spent"] else ""] for row in rows]  # fmt: skip
    return Table("canisters-now", "Scavenging canisters in use now", columns, cells)


def shares(view: View) -> Table | None:
    """Overdue shares and failed leak tests, all machines and each."""
    results, rows = view.results, []
    for measure, words in OVERDUE.items():
        for period, label in ((results.month, view.short), (results.year, YEAR)):
            levels = [results.row(measure, period), *results.levels(measure, period, "machine_id")]
            for row in levels:
                if row is None or row.level == "not recorded" or not (row.n or row.withheld):
                    continue
                machine = "all" if row.by == "all" else row.level
                if row.withheld:
                    rows.append([words, machine, label, None, None, None, None, None])
                else:
                    rows.append([words, machine, label, row.denominator, row.not_assessable, row.numerator, row.value,
                                 (row.low, row.high)])  # fmt: skip
    if not rows:
        return None
    columns = [Column("Measure"), Column("Machine"), Column("Period", "nowrap"), Column("Judged", "count"),
               Column("Could not be judged", "count"), Column("Had it", "count"), Column("Share", "share"),
               Column("95% interval", "interval")]  # fmt: skip
    return Table("machine-shares", "Overdue and failed", columns, rows)


def cylinders(view: View) -> Table | None:
    rows = view.rows("SELECT * FROM cylinder_levels ORDER BY machine_id")
    if not rows:
        return None
    columns = [Column("Machine"), Column("Changes in the record", "count"), Column("Last changed", "day"),
               Column("Gauge read", "day"), Column("Gauge", "number", "psi", 0), Column("Left", "number", "L", 0),
               Column("Lasts at 1 L a minute", "number", "h")]  # fmt: skip
    cells = [
        [row["machine_id"], row["changes"], day_of(row["changed_s"]), day_of(row["read_s"]), row["psi"], row["left_l"],
         None if row["left_l"] is None else row["left_l"] / 60]
        for row in rows
    ]  # fmt: skip
    full = view.rows("SELECT * FROM seed_cylinders WHERE cylinder = 'E'")[0]
    note = (
        f"Left: {full['full_l']:g} L x gauge / {full['full_psi']:g} psi for an E cylinder; no reading since the change "
        "leaves it unknown."
    )
    return Table("cylinders", "Oxygen cylinders", columns, cells, note)


def let_through(view: View) -> Table | None:
    """Charges of the last year with inspired carbon dioxide, or with more than they bind, last first."""
    rows = view.rows("""
        SELECT * FROM absorbent_charges CROSS JOIN record_end
        WHERE (co2_seen > 0 OR co2_l > bound_l OR marks <> marks_expected AND abs(marks - marks_expected) > 2)
            AND from_s > as_of_s - 366 * 86400
        ORDER BY from_s DESC
    """)
    if not rows:
        return None
    columns = [Column("Machine"), Column("Changed", "day"), Column("Until", "day"), Column("Used", "number", "h"),
               Column("Marks", "count"), Column("Marks expected", "count"), Column("Carbon dioxide", "number", "L", 0),
               Column("Bound by the charge", "number", "L", 0), Column("Cases with inspired CO\u2082")]  # fmt: skip
    cells = [[row["machine_id"], day_of(row["from_s"]), day_of(row["to_s"]), row["used_hours"], row["marks"],
              row["marks_expected"], row["co2_l"], row["bound_l"], seen(row)]
             for row in rows]  # fmt: skip
    note = "With inspired carbon dioxide in a case, loaded beyond what they bind, or with marks off by more than 2."
    return Table("charges-to-look-at", "Charges of absorbent to look at, 12 months", columns, cells, note)


def seen(row: dict) -> str:
    """Cases with inspired carbon dioxide of those that could be judged."""
    return f"{row['co2_seen']}\u00a0of\u00a0{row['co2_judged']}"


def day_of(seconds: int | None) -> date | None:
    return None if seconds is None else EPOCH + timedelta(seconds=seconds)
