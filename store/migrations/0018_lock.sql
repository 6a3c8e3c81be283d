-- +goose Up

-- How far the taking off of a personal lock has come: the reports by which its owner was
-- asked, what was done is noted, and it is off; 0 for none yet. A lock says itself, by its
-- reason, that it is one.
ALTER TABLE tag ADD COLUMN asked INTEGER NOT NULL DEFAULT 0;
ALTER TABLE tag ADD COLUMN noted INTEGER NOT NULL DEFAULT 0;
ALTER TABLE tag ADD COLUMN off INTEGER NOT NULL DEFAULT 0;
