-- +goose Up

-- Of a notice that stands in the channel only its key and its message are needed; a
-- digest is held against the next one.
UPDATE outbox SET args = '', problem = '' WHERE posted IS NOT NULL AND topic <> 'digest';

-- What waited behind a button that was used, and what waits too long, goes.
UPDATE pending SET args = '' WHERE used <> '';
CREATE INDEX pending_expires ON pending (shop_id, expires);

-- What waits behind one person's buttons, oldest first.
CREATE INDEX pending_asked ON pending (shop_id, asked, made, id) WHERE used = '';

-- How much one person has reported lately, withdrawn or not.
CREATE INDEX fact_lately ON fact (shop_id, by_id, recorded);
