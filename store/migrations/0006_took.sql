-- +goose Up

-- What work took from the shelf.
CREATE TABLE took (
    shop_id TEXT    NOT NULL,
    folded  TEXT    NOT NULL, -- name without regard to case
    at      INTEGER NOT NULL,
    fact_no INTEGER NOT NULL,
    n       INTEGER NOT NULL,
    PRIMARY KEY (shop_id, folded, at, fact_no)
) STRICT;
CREATE INDEX took_fact ON took (shop_id, fact_no);
