-- +goose Up

-- When a post was sent first whose answer is not known: it may stand in the channel
-- already. What waits at the change may have been sent, unless it waits for quiet hours
-- to end or never had a channel.
ALTER TABLE outbox ADD COLUMN sent INTEGER;
UPDATE outbox SET sent = coalesce(tried, made)
    WHERE posted IS NULL AND op = 'post' AND (attempts > 0 OR again IS NULL)
        AND problem <> 'no channel for notices is set';
