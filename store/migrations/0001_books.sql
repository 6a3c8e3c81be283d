-- +goose Up

-- Times are milliseconds since 1970 in UTC. Every table begins with the shop.

CREATE TABLE shop (
    shop_id  TEXT NOT NULL PRIMARY KEY,
    settings TEXT NOT NULL -- JSON
) STRICT;

-- Profiles as they were when machines were set up with them.
CREATE TABLE profile_text (
    shop_id TEXT NOT NULL,
    hash    TEXT NOT NULL, -- SHA-256 of text
    kind    TEXT NOT NULL,
    text    TEXT NOT NULL,
    PRIMARY KEY (shop_id, hash)
) STRICT;

CREATE TABLE machine (
    shop_id    TEXT    NOT NULL,
    machine_id INTEGER NOT NULL,
    name       TEXT    NOT NULL,
    folded     TEXT    NOT NULL, -- name without regard to case
    units      TEXT    NOT NULL, -- metric, inch, or '' for the shop's
    added      INTEGER NOT NULL,
    retired    INTEGER,
    setup      TEXT    NOT NULL, -- JSON
    seconds    INTEGER NOT NULL DEFAULT 0, -- running total of use
    outage     INTEGER NOT NULL DEFAULT 0, -- how many times taken out of service
    wake       INTEGER,                    -- when to judge it again
    PRIMARY KEY (shop_id, machine_id)
) STRICT;
CREATE UNIQUE INDEX machine_name ON machine (shop_id, folded) WHERE retired IS NULL;
CREATE INDEX machine_wake ON machine (wake) WHERE wake IS NOT NULL;

-- What was reported. Rows are only ever added; withdrawn and believed are marks
-- that later facts leave.
CREATE TABLE fact (
    shop_id    TEXT    NOT NULL,
    no         INTEGER NOT NULL,
    machine_id INTEGER NOT NULL, -- 0 for the shop itself
    kind       TEXT    NOT NULL,
    subject    TEXT    NOT NULL, -- the check or service it is about, or ''
    at         INTEGER NOT NULL,
    recorded   INTEGER NOT NULL,
    by_id      TEXT    NOT NULL, -- '' for Setscrew
    for_id     TEXT    NOT NULL,
    hash       TEXT    NOT NULL,
    setup_rev  INTEGER NOT NULL,
    withdrawn  INTEGER NOT NULL DEFAULT 0, -- the withdrawal's number
    believed   INTEGER NOT NULL DEFAULT 1, -- 0 for an unlikely reading not confirmed
    seconds    INTEGER NOT NULL DEFAULT 0, -- of use
    body       TEXT    NOT NULL, -- JSON
    PRIMARY KEY (shop_id, no)
) STRICT;
CREATE INDEX fact_subject ON fact (shop_id, machine_id, kind, subject, at, no) WHERE withdrawn = 0 AND believed = 1;
CREATE INDEX fact_waiting ON fact (shop_id, machine_id, no) WHERE withdrawn = 0 AND believed = 0;
CREATE INDEX fact_by ON fact (shop_id, by_id, no) WHERE withdrawn = 0;

CREATE TABLE audit (
    shop_id TEXT    NOT NULL,
    fact_no INTEGER NOT NULL,
    who     TEXT    NOT NULL,
    typed   TEXT    NOT NULL,
    at      INTEGER NOT NULL,
    PRIMARY KEY (shop_id, fact_no)
) STRICT;

-- Interactions that have been applied.
CREATE TABLE done (
    shop_id TEXT    NOT NULL,
    key     TEXT    NOT NULL,
    fact_no INTEGER NOT NULL,
    PRIMARY KEY (shop_id, key)
) STRICT;

-- What waits behind buttons and forms.
CREATE TABLE pending (
    shop_id TEXT    NOT NULL,
    id      TEXT    NOT NULL,
    action  TEXT    NOT NULL,
    args    TEXT    NOT NULL, -- JSON
    asked   TEXT    NOT NULL,
    made    INTEGER NOT NULL,
    expires INTEGER NOT NULL,
    used    TEXT    NOT NULL DEFAULT '', -- the interaction that consumed it
    PRIMARY KEY (shop_id, id)
) STRICT;

CREATE TABLE gauge (
    shop_id TEXT NOT NULL,
    folded  TEXT NOT NULL,
    gauge   TEXT NOT NULL, -- JSON
    PRIMARY KEY (shop_id, folded)
) STRICT;

-- When each service was last done, and the use since.
CREATE TABLE service_last (
    shop_id    TEXT    NOT NULL,
    machine_id INTEGER NOT NULL,
    service    TEXT    NOT NULL,
    fact_no    INTEGER NOT NULL,
    at         INTEGER NOT NULL,
    seconds    INTEGER NOT NULL,
    PRIMARY KEY (shop_id, machine_id, service)
) STRICT;

-- Every time that a check's surface was moved.
CREATE TABLE moved (
    shop_id    TEXT    NOT NULL,
    machine_id INTEGER NOT NULL,
    check_id   TEXT    NOT NULL,
    at         INTEGER NOT NULL,
    fact_no    INTEGER NOT NULL,
    PRIMARY KEY (shop_id, machine_id, check_id, at, fact_no)
) STRICT;

CREATE TABLE tag (
    shop_id    TEXT    NOT NULL,
    fact_no    INTEGER NOT NULL,
    machine_id INTEGER NOT NULL,
    cause      TEXT    NOT NULL,
    because    INTEGER NOT NULL,
    reason     TEXT    NOT NULL, -- JSON
    by_id      TEXT    NOT NULL,
    at         INTEGER NOT NULL,
    withdrawn  INTEGER NOT NULL DEFAULT 0, -- the report behind it was withdrawn
    lifted_by  INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (shop_id, fact_no)
) STRICT;
CREATE INDEX tag_standing ON tag (shop_id, machine_id, fact_no) WHERE lifted_by = 0;
CREATE INDEX tag_because ON tag (shop_id, because);
CREATE INDEX tag_lifted ON tag (shop_id, lifted_by);

CREATE TABLE danger (
    shop_id    TEXT    NOT NULL,
    fact_no    INTEGER NOT NULL,
    machine_id INTEGER NOT NULL,
    closed_by  INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (shop_id, fact_no)
) STRICT;
CREATE INDEX danger_open ON danger (shop_id, machine_id, fact_no) WHERE closed_by = 0;
CREATE INDEX danger_closed ON danger (shop_id, closed_by);

CREATE TABLE outbox (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    shop_id    TEXT    NOT NULL,
    machine_id INTEGER NOT NULL,
    key        TEXT    NOT NULL,
    op         TEXT    NOT NULL,
    target     TEXT    NOT NULL,
    topic      TEXT    NOT NULL,
    args       TEXT    NOT NULL, -- JSON
    made       INTEGER NOT NULL,
    attempts   INTEGER NOT NULL DEFAULT 0,
    tried      INTEGER, -- the first attempt
    again      INTEGER, -- not before
    problem    TEXT    NOT NULL DEFAULT '',
    posted     INTEGER,
    message    TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE UNIQUE INDEX outbox_key ON outbox (shop_id, key);
CREATE INDEX outbox_owing ON outbox (shop_id, machine_id, id) WHERE posted IS NULL;
