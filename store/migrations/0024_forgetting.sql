-- +goose Up

-- People who are to be forgotten and of whom something must stay for now: since when, by
-- which id what was reported until then is told, and what stays.
CREATE TABLE forgetting (
    shop_id   TEXT    NOT NULL,
    person_id TEXT    NOT NULL,
    former    TEXT    NOT NULL,
    at        INTEGER NOT NULL,
    kept      TEXT    NOT NULL, -- JSON
    PRIMARY KEY (shop_id, person_id)
) STRICT;
