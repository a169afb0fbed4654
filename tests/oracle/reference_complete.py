"""Second reading: which months are complete, and the periods that results stand for."""


def periods_of(record, cases, wanted=None):
    """[{name, partial, until (last month_no, None for all), covers(month_no or None)}]

    wanted: the report month as YYYY-MM; without it the last complete one; where none is complete, the last with a case
    (the definitions are silent there).
    """
    months = [case["month"] for case in cases.values() if case["month"] is not None]
    span = range(min(months), max(months) + 1)
    whole = [month for month in span if complete(record, cases, month)]
    found = []
    for month in span:
        found.append(period(name_of(month), month, month, span, partial=month not in whole))
    report = max(whole or span)
    if wanted is not None:
        report = int(wanted[:4]) * 12 + int(wanted[5:]) - 1
    found.append(period(f"{name_of(report - 11)}..{name_of(report)}", report - 11, report, span))
    found.append({"name": "all", "partial": False, "until": None, "covers": lambda month: True})
    return found


def period(name, first, last, span, partial=False):
    def covers(month):
        return month is not None and first <= month <= last and month in span

    return {"name": name, "partial": partial, "until": last, "covers": covers}


def name_of(month):
    return f"{month // 12:04d}-{month % 12 + 1:02d}"


def complete(record, cases, month):
    """For every site with a case in the month, loaded or quarantined: its latest start is in a later month, and at
    most 5 % of the month's cases are quarantined."""
    sites = {case["site"] for case in cases.values() if case["month"] == month}
    sites |= {row["site"] for row in record["quarantine"] if row["table_name"] == "cases" and row["month_no"] == month}
    for site in sites:
        ours = [case["month"] for case in cases.values() if case["site"] == site and case["month"] is not None]
        if not ours or max(ours) <= month:
            return False
        loaded = len([1 for m in ours if m == month])
        away = [1 for row in record["quarantine"] if row["table_name"] == "cases" and row["month_no"] == month
                and row["site"] == site]  # fmt: skip
        if len(away) / (loaded + len(away)) > 0.05:
            return False
    return True
