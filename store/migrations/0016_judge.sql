-- +goose Up

-- Every machine is judged again by what this version asks for: one that was handed over
-- apart is out of service, and what is overdue takes one out before the shop opens.
UPDATE machine SET wake = 0 WHERE retired IS NULL;
