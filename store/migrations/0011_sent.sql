-- +goose Up

-- When a post was sent first whose answer is not known: it may stand in the channel
-- already. What waits at the change may have been sent, unless it waits for quiet hours
-- to end or never had a channel.
ALTER TABLE outbox ADD COLUMN sent INTEGER;
UPDATE outbox SET sent = coalesce(tried, made)
    WHERE posted IS NULL AND op = 'post' AND (attempts > 0 OR again IS NULL)
        AND problem <> 'no channel for notices is set';

-- The post whose message a post shares; none where it is a message of its own.
ALTER TABLE outbox ADD COLUMN lead INTEGER;
CREATE INDEX outbox_lead ON outbox (lead) WHERE lead IS NOT NULL;
CREATE INDEX outbox_target ON outbox (shop_id, target) WHERE target <> '';
