-- +goose Up

-- The last answer of which somebody was not told, since it could not be delivered.
CREATE TABLE unseen (
    shop_id   TEXT    NOT NULL,
    person_id TEXT    NOT NULL,
    said      TEXT    NOT NULL,
    at        INTEGER NOT NULL,
    PRIMARY KEY (shop_id, person_id)
) STRICT;

-- What somebody was told last of what notices and books lack, so that they are told once.
CREATE TABLE told (
    shop_id   TEXT    NOT NULL,
    person_id TEXT    NOT NULL,
    what      TEXT    NOT NULL,
    at        INTEGER NOT NULL,
    PRIMARY KEY (shop_id, person_id)
) STRICT;

CREATE INDEX unseen_at ON unseen (shop_id, at);
CREATE INDEX told_at ON told (shop_id, at);

-- What was found out, and logged, of a shop's channel for notices and its role.
CREATE TABLE trouble (
    shop_id TEXT NOT NULL PRIMARY KEY,
    found   TEXT NOT NULL -- JSON
) STRICT;

-- The tag-outs that could not be posted yet.
CREATE INDEX outbox_tried ON outbox (topic, id) WHERE posted IS NULL AND attempts > 0;

-- Who had which former member forgotten, where that was somebody else.
CREATE TABLE forgot (
    shop_id TEXT    NOT NULL,
    key     TEXT    NOT NULL, -- of the press that asked for it
    by_id   TEXT    NOT NULL,
    former  TEXT    NOT NULL,
    at      INTEGER NOT NULL,
    PRIMARY KEY (shop_id, key)
) STRICT;
