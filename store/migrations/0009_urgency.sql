-- +goose Up

-- How soon a notice must stand in the channel: 0 a danger, 1 a call, 2 a release, 3
-- the rest. What was owed before keeps the usual place, but for what says that a
-- machine must not be used.
ALTER TABLE outbox ADD COLUMN urgency INTEGER NOT NULL DEFAULT 3;
UPDATE outbox SET urgency = 0 WHERE posted IS NULL AND topic = 'tag-out';

-- What is owed, by shop and machine: the most urgent first.
DROP INDEX outbox_undelivered;
DROP INDEX outbox_owing;
CREATE INDEX outbox_owed ON outbox (shop_id, machine_id, urgency, id) WHERE posted IS NULL;
CREATE INDEX outbox_machine ON outbox (shop_id, machine_id, id) WHERE posted IS NULL;
