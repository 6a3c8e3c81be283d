-- +goose Up

-- Which machine must not run without which other.
CREATE TABLE need (
    shop_id    TEXT    NOT NULL,
    machine_id INTEGER NOT NULL,
    other_id   INTEGER NOT NULL,
    PRIMARY KEY (shop_id, machine_id, other_id)
) STRICT;
CREATE INDEX need_other ON need (shop_id, other_id);
