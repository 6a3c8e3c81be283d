-- +goose Up

-- The interaction that a fact came from stands on the fact itself.
ALTER TABLE fact ADD COLUMN key TEXT NOT NULL DEFAULT '';
UPDATE fact SET key = coalesce((SELECT key FROM done WHERE done.shop_id = fact.shop_id AND done.fact_no = fact.no), '');
CREATE UNIQUE INDEX fact_key ON fact (shop_id, key) WHERE key <> '';
DROP TABLE done;
