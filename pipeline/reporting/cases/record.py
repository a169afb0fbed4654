"""Everything the database holds about one anesthetic, with minutes counted from its start."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from pipeline.errors import UserFault
from pipeline.reporting.display import words

STAGES = (
    ("premed_s", "premedication"), ("preoxygenation_start_s", "pre-oxygenation"), ("induction_s", "induction"),
    ("intubation_s", "airway secured"), ("vaporizer_on_s", "vaporizer on"), ("procedure_start_s", "procedure begins"),
    ("procedure_end_s", "procedure ends"), ("ventilator_off_s", "ventilator off"), ("vaporizer_off_s", "vaporizer off"),
    ("spontaneous_breathing_s", "breathing alone"), ("extubation_s", "extubation"), ("sternal_s", "on the sternum"),
    ("standing_s", "standing"), ("recovery_end_s", "handover"),
)  # fmt: skip
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(slots=True)
class Record:
    """case, window: the rows as dicts; minutes from origin_s, the start, else the first charted time [min].

    readings: parameter -> (minutes, values) of valid readings; removed: parameter -> (minutes, values, reasons);
    cold_below: the hypothermia limit of the species [°C]. limits: (parameter, measure) -> (above, below, at_most);
    episodes: dicts measure, parameter, start, end, worst.
    """

    case: dict
    window: dict
    origin_s: int
    zone: ZoneInfo
    cold_below: float | None = None
    readings: dict = field(default_factory=dict)
    removed: dict = field(default_factory=dict)
    limits: dict = field(default_factory=dict)
    episodes: list = field(default_factory=list)
    doses: list = field(default_factory=list)
    events: list = field(default_factory=list)
    stages: list = field(default_factory=list)

    def minute(self, clock_s: int) -> float:
        return round((clock_s - self.origin_s) / 60, 2)

    def local(self, clock_s: int) -> datetime:
        """The clinic's wall time of a UTC clock."""
        return (EPOCH + timedelta(seconds=clock_s)).astimezone(self.zone).replace(tzinfo=None)

    def span(self) -> tuple[float, float]:
        """First and last minute of anything charted, drugs given long before left out."""
        minutes = [minute for times, _ in self.readings.values() for minute in times]
        minutes += [minute for minute, _ in self.stages if minute > -60]
        minutes += [event["minute"] for event in self.events if event["minute"] is not None]
        low, high = min(minutes, default=0.0), max(minutes, default=60.0)
        room = max(2.0, (high - low) * 0.02)
        return low - room, high + room


def read(db, settings, case_id: str) -> Record:
    """The record of a case. Raises UserFault when no such case is loaded."""
    found = read_all(db, settings, [case_id])
    if not found:
        raise UserFault(
            where="case",
            found="a case number that is not in the database",
            wanted="the clinic's own number of a loaded anesthetic",
            fix="check the number as it stands in the export, or load the export that holds it",
        )
    return found[case_id]


def read_all(db, settings, case_ids: list[str]) -> dict[str, Record]:
    """The records of these cases by number, those not loaded left out; one query a table."""
    asked = dict(case_ids=list(case_ids))
    zone, windows = ZoneInfo(settings.zone), _whole(db, "case_windows", asked)
    readings = _by_case(db, READINGS, asked)
    cold = dict(db.execute("SELECT species, max(below) FROM seed_temperature WHERE measure = 'hypothermia' "
                           "GROUP BY species").fetchall())  # fmt: skip
    parts = [(part, _by_case(db, sql, asked)) for part, sql in
             ((_limits, LIMITS), (_episodes, EPISODES), (_doses, DOSES), (_events, EVENTS))]  # fmt: skip
    records = {}
    for case_id, case in _whole(db, "stg_cases", asked).items():
        window, charted = windows.get(case_id, {}), [case[name] for name, _ in STAGES if case[name] is not None]
        first = min((taken for _, taken, _, _ in readings.get(case_id, ())), default=None)
        record = Record(case, window, int(window.get("start_s") or first or min(charted, default=0)), zone)
        record.cold_below = cold.get(case["species"])
        _readings(record, readings.get(case_id, ()))
        for part, rows in parts:
            part(record, rows.get(case_id, ()))
        record.stages = sorted((record.minute(case[name]), said) for name, said in STAGES if case[name] is not None)
        records[case_id] = record
    return records


OF_CASES = "case_id IN (SELECT unnest($case_ids))"
READINGS = f"""
    SELECT case_id, parameter, taken_s, val, reason FROM vital_readings
    WHERE {OF_CASES} ORDER BY case_id, parameter, taken_s"""
LIMITS = f"""
    SELECT case_id, measure, parameter, above, below, at_most FROM case_limits WHERE {OF_CASES} ORDER BY ALL"""
EPISODES = f"""
    SELECT case_id, exposure_episodes.measure, exposure_episodes.parameter, from_s, beyond_s, worst_depth
    FROM exposure_episodes
    INNER JOIN case_exposures USING (case_id, measure, parameter)
    CROSS JOIN (SELECT max(CASE WHEN name = 'min_readings' THEN val END) AS readings,
        max(CASE WHEN name = 'sustain_min' THEN val END) AS minutes FROM seed_windows) AS asked
    WHERE {OF_CASES} AND held_readings >= asked.readings AND beyond_s >= 60 * asked.minutes
    ORDER BY case_id, from_s, measure"""
DOSES = f"""
    SELECT case_id, drug, kind, phase, route, given_s, stopped_s, amount, amount_unit FROM stg_drugs
    WHERE {OF_CASES} ORDER BY case_id, given_s NULLS FIRST, drug, amount"""
EVENTS = f"""
    SELECT case_id, event, occurred_s, resolved_s, severity, action FROM stg_events
    WHERE {OF_CASES} ORDER BY ALL"""


def _whole(db, table: str, asked: dict) -> dict[str, dict]:
    """The row of each case as a dict."""
    found = db.execute(f"SELECT * FROM {table} WHERE {OF_CASES} ORDER BY case_id", asked)
    names = [column[0] for column in found.description]
    rows = (dict(zip(names, row, strict=True)) for row in found.fetchall())
    return {row["case_id"]: row for row in rows}


def _by_case(db, sql: str, asked: dict) -> dict[str, list[tuple]]:
    """The rows of each case, less its number, which is the first column."""
    found: dict[str, list[tuple]] = {}
    for case_id, *row in db.execute(sql, asked).fetchall():
        found.setdefault(case_id, []).append(row)
    return found


def _readings(record: Record, rows) -> None:
    for parameter, taken, value, reason in rows:
        if value is None:
            continue
        if reason is None:
            times, values = record.readings.setdefault(parameter, ([], []))
        else:
            times, values, reasons = record.removed.setdefault(parameter, ([], [], []))
            reasons.append(reason)
        times.append(record.minute(taken))
        values.append(value)


def _limits(record: Record, rows) -> None:
    record.limits = {(parameter, measure): limit for measure, parameter, *limit in rows}


def _episodes(record: Record, rows) -> None:
    for measure, parameter, start, length, worst in rows:
        record.episodes.append({
            "measure": measure, "parameter": parameter, "start": record.minute(start),
            "end": record.minute(start + length), "minutes": length / 60, "worst": worst,
        })  # fmt: skip


def _doses(record: Record, rows) -> None:
    for drug, kind, phase, route, given, stopped, amount, unit in rows:
        record.doses.append({
            "drug": words(drug), "kind": kind, "phase": phase, "route": route, "amount": amount, "unit": unit,
            "minute": None if given is None else record.minute(given),
            "until": None if stopped is None or given is None else record.minute(stopped),
        })  # fmt: skip


def _events(record: Record, rows) -> None:
    for event, at, resolved, severity, action in rows:
        record.events.append({
            "event": event, "severity": severity, "action": action,
            "minute": None if at is None else record.minute(at),
            "until": None if resolved is None else record.minute(resolved),
        })  # fmt: skip
