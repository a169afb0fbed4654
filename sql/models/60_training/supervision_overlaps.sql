-- supervision_overlaps: when somebody supervised somebody else's part.
--
-- Grain   one row per case, person, role, supervisor and stretch in which both were there
-- Reads   case_parts
-- Units   from_s, to_s seconds UTC; NULL where one of the two could not be placed
-- Source  the project's own rule
--
-- Rules
--   Nobody supervises themselves. A supervisor can be somebody's trainee in the same case.
--   Parts that only touch do not overlap; a part that cannot be placed is taken as supervised for an unknown time.
WITH pairs AS (
    SELECT
        work.case_id,
        work.person,
        work.role,
        guide.person AS supervisor,
        CASE WHEN work.from_s IS NULL OR guide.from_s IS NULL THEN NULL
             WHEN work.from_s > guide.from_s THEN work.from_s ELSE guide.from_s END AS from_s,
        CASE WHEN work.to_s IS NULL OR guide.to_s IS NULL THEN NULL
             WHEN work.to_s < guide.to_s THEN work.to_s ELSE guide.to_s END AS to_s
    FROM case_parts AS work
    INNER JOIN case_parts AS guide
        ON guide.case_id = work.case_id AND guide.role = 'supervising' AND guide.person <> work.person
    WHERE work.role IS NULL OR work.role <> 'supervising'
)

SELECT DISTINCT
    pairs.case_id,
    pairs.person,
    pairs.role,
    pairs.supervisor,
    pairs.from_s,
    pairs.to_s
FROM pairs
WHERE pairs.from_s IS NULL OR pairs.from_s < pairs.to_s
