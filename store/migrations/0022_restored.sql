-- +goose Up

-- Shops whose books were put back from a copy and whose channel was not held against
-- them yet: when they were put back, and until when they know what happened.
CREATE TABLE restored (
    shop_id TEXT    NOT NULL PRIMARY KEY,
    at      INTEGER NOT NULL,
    last    INTEGER NOT NULL
) STRICT;
