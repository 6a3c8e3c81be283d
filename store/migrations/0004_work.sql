-- +goose Up

-- When each service was last done, each event last happened, the counter was
-- last read; and the use since.
ALTER TABLE service_last RENAME TO done_last;
ALTER TABLE done_last RENAME COLUMN service TO work; -- "service:bushings", "event:belts-changed", "counter:"
UPDATE done_last SET work = 'service:' || work;

-- Every report of a problem, and what closed it: a release for a danger, a
-- "mended" for the others, a withdrawal for either.
CREATE TABLE problem (
    shop_id    TEXT    NOT NULL,
    fact_no    INTEGER NOT NULL,
    machine_id INTEGER NOT NULL,
    key        TEXT    NOT NULL, -- reports with one key are of one thing
    danger     INTEGER NOT NULL,
    closed_by  INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (shop_id, fact_no)
) STRICT;
INSERT INTO problem (shop_id, fact_no, machine_id, key, danger, closed_by)
    SELECT f.shop_id, f.no, f.machine_id, coalesce(nullif(json_extract(f.body, '$.symptom'), ''), lower(json_extract(f.body, '$.name'))),
        d.fact_no IS NOT NULL, coalesce(d.closed_by, f.withdrawn)
    FROM fact f LEFT JOIN danger d ON d.shop_id = f.shop_id AND d.fact_no = f.no WHERE f.kind = 'problem';
DROP TABLE danger;
CREATE INDEX problem_open ON problem (shop_id, machine_id, danger, fact_no) WHERE closed_by = 0;
CREATE INDEX problem_closed ON problem (shop_id, closed_by);

ALTER TABLE tag ADD COLUMN paper TEXT NOT NULL DEFAULT '';
UPDATE tag SET paper = coalesce((SELECT json_extract(body, '$.paper') FROM fact WHERE fact.shop_id = tag.shop_id AND fact.no = tag.fact_no), '');

-- The test that runs, 0 if none.
ALTER TABLE machine ADD COLUMN test INTEGER NOT NULL DEFAULT 0;

-- A machine's past, newest first.
CREATE INDEX fact_machine ON fact (shop_id, machine_id, no);
