-- +goose Up

-- When each shop's daily digest falls due next.
CREATE TABLE digest (
    shop_id TEXT    NOT NULL PRIMARY KEY,
    next    INTEGER NOT NULL
) STRICT;
CREATE INDEX digest_next ON digest (next);
