-- +goose Up

-- What Setscrew closed by itself because of a report.
CREATE INDEX fact_because ON fact (shop_id, json_extract(body, '$.because'), no) WHERE kind = 'mended' AND withdrawn = 0;
