-- +goose Up

-- Use is summed from the index alone.
DROP INDEX fact_subject;
CREATE INDEX fact_subject ON fact (shop_id, machine_id, kind, subject, at, no, seconds) WHERE withdrawn = 0 AND believed = 1;

-- A machine's reports of one problem.
CREATE INDEX problem_key ON problem (shop_id, machine_id, key, fact_no);

-- What is owed, whoever it is owed by, and when it is tried again: what was
-- posted is not among it.
CREATE INDEX outbox_undelivered ON outbox (id) WHERE posted IS NULL;
CREATE INDEX outbox_again ON outbox (again) WHERE posted IS NULL AND again IS NOT NULL;
