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
    case = _one(db, "SELECT * FROM stg_cases WHERE case_id = ?", case_id)
    if case is None:
        raise UserFault(
            where="case",
            found="a case number that is not in the database",
            wanted="the clinic's own number of a loaded anesthetic",
            fix="check the number as it stands in the export, or load the export that holds it",
        )
    window = _one(db, "SELECT * FROM case_windows WHERE case_id = ?", case_id) or {}
    first = db.execute("SELECT min(taken_s) FROM vital_readings WHERE case_id = ?", [case_id]).fetchone()[0]
    charted = [case[name] for name, _ in STAGES if case[name] is not None]
    origin = window.get("start_s") or first or min(charted, default=0)
    record = Record(case, window, int(origin), ZoneInfo(settings.zone))
    for parameter, taken, value, reason in db.execute(
        "SELECT parameter, taken_s, val, reason FROM vital_readings WHERE case_id = ? AND val IS NOT NULL "
        "ORDER BY parameter, taken_s",
        [case_id],
    ).fetchall():
        if reason is None:
            times, values = record.readings.setdefault(parameter, ([], []))
        else:
            times, values, reasons = record.removed.setdefault(parameter, ([], [], []))
            reasons.append(reason)
        times.append(record.minute(taken))
        values.append(value)
    record.cold_below = db.execute(
        "SELECT max(below) FROM seed_temperature WHERE measure = 'hypothermia' AND species = ?", [case["species"]]
    ).fetchone()[0]
    _limits(db, record, case_id)
    _doses(db, record, case_id)
    for event, at, resolved, severity, action in db.execute(
        "SELECT event, occurred_s, resolved_s, severity, action FROM stg_events WHERE case_id = ? ORDER BY ALL",
        [case_id],
    ).fetchall():
        record.events.append({
            "event": event, "severity": severity, "action": action,
            "minute": None if at is None else record.minute(at),
            "until": None if resolved is None else record.minute(resolved),
        })  # fmt: skip
    record.stages = sorted((record.minute(case[name]), said) for name, said in STAGES if case[name] is not None)
    return record


def _one(db, sql: str, case_id: str) -> dict | None:
    found = db.execute(sql, [case_id])
    names = [column[0] for column in found.description]
    row = found.fetchone()
    return None if row is None else dict(zip(names, row, strict=True))


def _limits(db, record: Record, case_id: str) -> None:
    for measure, parameter, above, below, at_most in db.execute(
        "SELECT measure, parameter, above, below, at_most FROM case_limits WHERE case_id = ? ORDER BY ALL", [case_id]
    ).fetchall():
        record.limits[parameter, measure] = (above, below, at_most)
    for measure, parameter, start, length, worst in db.execute(
        """SELECT exposure_episodes.measure, exposure_episodes.parameter, from_s, beyond_s, worst_depth
        FROM exposure_episodes
        INNER JOIN case_exposures
            ON case_exposures.case_id = exposure_episodes.case_id
            AND case_exposures.measure = exposure_episodes.measure
            AND case_exposures.parameter = exposure_episodes.parameter
        CROSS JOIN (SELECT max(CASE WHEN name = 'min_readings' THEN val END) AS readings,
            max(CASE WHEN name = 'sustain_min' THEN val END) AS minutes FROM seed_windows) AS asked
        WHERE exposure_episodes.case_id = ? AND held_readings >= asked.readings AND beyond_s >= 60 * asked.minutes
        ORDER BY from_s, measure""",
        [case_id],
    ).fetchall():
        record.episodes.append(
            {
                "measure": measure,
                "parameter": parameter,
                "start": record.minute(start),
                "end": record.minute(start + length),
                "minutes": length / 60,
                "worst": worst,
            }
        )


def _doses(db, record: Record, case_id: str) -> None:
    rows = db.execute(
        """SELECT drug, kind, phase, route, given_s, stopped_s, amount, amount_unit FROM stg_drugs
        WHERE case_id = ? ORDER BY given_s NULLS FIRST, drug, amount""",
        [case_id],
    ).fetchall()
    for drug, kind, phase, route, given, stopped, amount, unit in rows:
        record.doses.append({
            "drug": words(drug), "kind": kind, "phase": phase, "route": route, "amount": amount, "unit": unit,
            "minute": None if given is None else record.minute(given),
            "until": None if stopped is None or given is None else record.minute(stopped),
        })  # fmt: skip
