-- absorbent_since_change: hours the absorbent in each machine had served when the period ended.
--
-- Grain   one row a period and machine with a rebreathing case in the period
-- Reads   machine_clock, machine_cycles, total_months, report_periods
-- Units   hours h
-- Source  none
--
-- Rules
--   From the last change before the period's end; use past the end is clipped. No change before it: unknown.
--   A case that began before the change and went on after it (astride) adds what came after.

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

astride AS (
    SELECT machine_clock.machine_id, machine_clock.from_s, machine_clock.own_from_s, machine_clock.to_s
    FROM machine_clock
    LEFT JOIN machine_cycles
        ON machine_cycles.item = machine_clock.item
        AND machine_cycles.machine_id = machine_clock.machine_id
        AND machine_cycles.from_s = machine_clock.changed_s
    WHERE machine_clock.item = 'absorbent'
        AND machine_clock.own_s > 0
        AND machine_clock.to_s > CASE
            WHEN machine_clock.changed_s IS NULL THEN machine_clock.first_change_s
            ELSE machine_cycles.to_s
        END
),

served AS (
    SELECT changed.period, changed.machine_id, changed.changed_s, machine_clock.own_from_s, machine_clock.to_s
    FROM changed
    INNER JOIN machine_clock
        ON machine_clock.machine_id = changed.machine_id
        AND machine_clock.changed_s = changed.changed_s
    WHERE machine_clock.item = 'absorbent' AND machine_clock.own_s > 0
    UNION ALL
    SELECT changed.period, changed.machine_id, changed.changed_s, astride.own_from_s, astride.to_s
    FROM changed
    INNER JOIN astride
        ON astride.machine_id = changed.machine_id
        AND astride.from_s < changed.changed_s
        AND astride.to_s > changed.changed_s
),

used AS (
    SELECT
        served.period,
        served.machine_id,
        sum(
            least(served.to_s, machines.end_s) - greatest(served.own_from_s, served.changed_s)
        ) / 3600e0 AS hours_used
    FROM served
    INNER JOIN machines ON machines.period = served.period AND machines.machine_id = served.machine_id
    WHERE served.own_from_s < machines.end_s
    GROUP BY served.period, served.machine_id
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
