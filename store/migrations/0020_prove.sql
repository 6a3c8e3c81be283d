-- +goose Up

-- Every machine is judged again by what this version asks for: a safety value that is not
-- proved takes one out of service at the close of the next open day.
UPDATE machine SET wake = 0 WHERE retired IS NULL;
