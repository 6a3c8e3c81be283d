-- +goose Up

-- How often what kept a notice from its channel may have been mended: an attempt that
-- began before it does not keep the notice waiting.
ALTER TABLE outbox ADD COLUMN mended INTEGER NOT NULL DEFAULT 0;
