-- absorbent_since_change: hours the absorbent in each machine had served when the period ended.
--
-- Grain   one row a period and machine with a rebreathing case in the period
-- Reads   machine_clock, machine_cycles, total_months, report_periods
-- Units   hours h
-- Source  none
--
-- Rules
--   From the last change before the period's end; use past the end is clipped. No change before it: unknown.

WITH

machines AS (
    SELECT
        report_periods.period,
        report_periods.end_s,
        total_months.level_text AS machine_id,
        CAST(sum(total_months.n) AS BIGINT) AS n,
        CAST(sum(total_months.known) AS BIGINT) AS known
    FROM total_months
    INNER JOIN report_periods
        ON total_months.month_no >= report_periods.from_month_no
        AND total_months.month_no <= report_periods.to_month_no
    WHERE total_months.measure = 'absorbent_hours'
    GROUP BY report_periods.period, report_periods.end_s, total_months.level_text
),

changed AS (
    SELECT machines.period, machines.machine_id, max(machine_cycles.from_s) AS changed_s
    FROM machines
    INNER JOIN machine_cycles
        ON machine_cycles.machine_id = machines.machine_id
        AND machine_cycles.from_s < machines.end_s
    WHERE machine_cycles.item = 'absorbent'
    GROUP BY machines.period, machines.machine_id
),

used AS (
    SELECT
        changed.period,
        changed.machine_id,
        sum(
            least(machine_clock.to_s, machines.end_s) - greatest(machine_clock.own_from_s, changed.changed_s)
        ) / 3600e0 AS hours_used
    FROM changed
    INNER JOIN machines ON machines.period = changed.period AND machines.machine_id = changed.machine_id
    INNER JOIN machine_clock
        ON machine_clock.machine_id = changed.machine_id
        AND machine_clock.to_s > changed.changed_s
        AND machine_clock.own_from_s < machines.end_s
        AND machine_clock.own_s > 0
    WHERE machine_clock.item = 'absorbent'
    GROUP BY changed.period, changed.machine_id
)

SELECT
    machines.period,
    machines.machine_id,
    machines.n,
    machines.known,
    CASE WHEN changed.changed_s IS NOT NULL THEN coalesce(used.hours_used, 0e0) END AS hours_since_change
FROM machines
LEFT JOIN changed ON changed.period = machines.period AND changed.machine_id = machines.machine_id
LEFT JOIN used ON used.period = machines.period AND used.machine_id = machines.machine_id
