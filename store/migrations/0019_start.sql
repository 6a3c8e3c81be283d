-- +goose Up

-- A machine that was on the books before it was asked how a machine starts: it stays as
-- it is, and that is said once, unless it was released.
ALTER TABLE machine ADD COLUMN unasked INTEGER NOT NULL DEFAULT 0;

UPDATE machine SET unasked = 1, wake = 0 WHERE retired IS NULL;

-- The last release of each machine is kept at hand, with the use since it.
INSERT INTO done_last (shop_id, machine_id, work, fact_no, at, seconds)
	SELECT r.shop_id, r.machine_id, 'release:', r.no, r.at, (SELECT coalesce(sum(u.seconds), 0) FROM fact u
		WHERE u.shop_id = r.shop_id AND u.machine_id = r.machine_id AND u.kind IN ('hours', 'counter')
			AND u.subject = '' AND u.at > r.at AND u.withdrawn = 0 AND u.believed = 1)
	FROM fact r WHERE r.kind = 'release' AND r.withdrawn = 0 AND NOT EXISTS (SELECT 1 FROM fact l
		WHERE l.shop_id = r.shop_id AND l.machine_id = r.machine_id AND l.kind = 'release' AND l.withdrawn = 0
			AND (l.at > r.at OR l.at = r.at AND l.no > r.no));
