-- stg_drugs: doses and infusion segments as charted.
--
-- Grain   one row a dose or an infusion segment
-- Reads   drugs, set_aside_rows
-- Units   *_s seconds of UTC since 1970; given_month_no year x 12 + month - 1, local
-- Source  none

SELECT
    drugs.case_id,
    drugs.drug,
    drugs.kind,
    drugs.phase,
    drugs.route,
    drugs.given_at_s AS given_s,
    drugs.stopped_at_s AS stopped_s,
    CAST(drugs.given_at AS DATE) AS given_day,
    year(drugs.given_at) * 12 + month(drugs.given_at) - 1 AS given_month_no,
    drugs.amount,
    drugs.amount_unit,
    drugs.concentration_mg_ml,
    drugs.drawn_ml,
    drugs.wasted_ml,
    drugs.lot,
    drugs.given_by,
    drugs.witnessed_by,
    drugs.source_file,
    drugs.source_row
FROM drugs
LEFT JOIN set_aside_rows
    ON set_aside_rows.table_name = 'drugs'
    AND set_aside_rows.source_file = drugs.source_file
    AND set_aside_rows.source_row = drugs.source_row
WHERE set_aside_rows.rule_id IS NULL
