"""Monitors whose clock and the record's differ: no patient has end-tidal CO2 before its tube."""

from pipeline.intake.mapping import words

# Seconds from the intubation to the first reading of end-tidal CO2, one row a case.
FIRST_CO2 = """
  SELECT c.machine_id, min(v.taken_at_s) - c.intubation_at_s AS late_s
  FROM cases AS c JOIN vitals AS v ON v.case_id = c.case_id
  WHERE c.machine_id IS NOT NULL AND c.intubation_at_s IS NOT NULL AND v.parameter = 'etco2' AND v.value > 5
  GROUP BY c.case_id, c.machine_id, c.intubation_at_s
"""


def monitor_offsets(db) -> list[str]:
    """A sentence for each machine with readings minutes before the intubation in most of its cases.

    Nothing is shifted: shift_minutes in mapping.toml does that, once a person has looked at the monitor's clock.
    """
    least = int(words.evidence("monitor_offset_cases"))
    early = 60 * int(words.evidence("monitor_offset_min"))
    rows = db.execute(
        f"""SELECT machine_id, count(*) AS n, median(late_s) AS middle FROM ({FIRST_CO2})
            GROUP BY machine_id HAVING n >= {least} AND middle <= -{early} ORDER BY machine_id"""
    ).fetchall()
    return [
        f"Machine {machine}: in most of {n} cases the first end-tidal CO2 stands before the intubation, by "
        f"{-middle / 60:.0f} min in the middle. The monitor's clock may be slow; nothing was shifted "
        "(see shift_minutes in mapping.toml)."
        for machine, n, middle in rows
    ]
