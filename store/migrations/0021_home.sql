-- +goose Up

-- Photos that members attached and that are still to be posted, by the notice that
-- carries them: fetched soon after the report, since the link to one dies within a day.
-- data is NULL until then, url '' from then on.
CREATE TABLE photo (
    shop_id TEXT    NOT NULL,
    key     TEXT    NOT NULL,
    url     TEXT    NOT NULL,
    made    INTEGER NOT NULL,
    data    BLOB,
    PRIMARY KEY (shop_id, key)
) STRICT;
CREATE INDEX photo_made ON photo (made);
CREATE INDEX photo_wanted ON photo (made) WHERE data IS NULL;
INSERT INTO photo (shop_id, key, url, made)
    SELECT shop_id, key, json_extract(args, '$.photo.url'), made FROM outbox
    WHERE posted IS NULL AND op = 'post' AND args <> '' AND coalesce(json_extract(args, '$.photo.url'), '') <> '';

-- That somebody sees to a danger because of a report.
CREATE INDEX fact_shown ON fact (shop_id, json_extract(body, '$.because'), no)
    WHERE kind = 'seen-to' AND withdrawn = 0;

-- Nobody is called about a danger that stands since before anybody could say that they
-- see to it: the call counts as posted, and stands nowhere.
INSERT INTO outbox (shop_id, machine_id, key, op, target, topic, args, made, posted)
    SELECT shop_id, machine_id, 'm' || machine_id || '/unseen/' || fact_no, 'post', '', 'unseen', '', at, at
    FROM tag WHERE lifted_by = 0 AND json_extract(reason, '$.code') = 'danger';
INSERT INTO outbox (shop_id, machine_id, key, op, target, topic, args, made, posted)
    SELECT p.shop_id, p.machine_id, 'm' || p.machine_id || '/unseen/doubt/' || min(p.fact_no), 'post', '', 'unseen', '',
        min(f.at), min(f.at)
    FROM problem p JOIN fact f ON f.shop_id = p.shop_id AND f.no = p.fact_no
    WHERE p.danger = 0 AND p.closed_by = 0 AND EXISTS (SELECT 1 FROM problem q
        JOIN fact g ON g.shop_id = q.shop_id AND g.no = q.fact_no
        WHERE q.shop_id = p.shop_id AND q.machine_id = p.machine_id AND q.key = p.key AND q.danger = 0
            AND q.closed_by = 0 AND json_extract(g.body, '$.doubt'))
    GROUP BY p.shop_id, p.machine_id, p.key;
