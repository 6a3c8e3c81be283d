-- +goose Up

-- Who was seen acting as a steward, by which role and when last; a few of each shop.
CREATE TABLE steward (
    shop_id   TEXT    NOT NULL,
    person_id TEXT    NOT NULL,
    role_id   TEXT    NOT NULL,
    seen      INTEGER NOT NULL,
    PRIMARY KEY (shop_id, person_id)
) STRICT;
