-- What a refusal is about: the pallets and orders that it or its command named, its lots, whose they are, and the pallets they
-- were on at the time. So it is found in their histories however long ago it was.
CREATE TABLE refusal_about (
    kind text   NOT NULL CHECK (kind IN ('pallet', 'lot', 'order')),
    name text   NOT NULL,
    n    bigint NOT NULL,
    PRIMARY KEY (kind, name, n)
);

-- Of those on record so far what they say themselves; what else their commands named is not on record.
WITH named AS (
    SELECT p.kind, r.body -> 'params' ->> p.kind AS name, r.n, r.at FROM refusal r, unnest(ARRAY['pallet', 'lot', 'order']) AS p(kind)
    UNION
    SELECT 'lot', x, r.n, r.at FROM refusal r,
        jsonb_array_elements_text(CASE jsonb_typeof(r.body -> 'lots') WHEN 'array' THEN r.body -> 'lots' ELSE '[]' END) AS x
)
INSERT INTO refusal_about (kind, name, n)
SELECT kind, name, n FROM named WHERE octet_length(name) BETWEEN 1 AND 200
UNION
SELECT 'order', l.owner_order, named.n FROM named JOIN lot l ON l.id = named.name WHERE named.kind = 'lot' AND l.owner_order <> ''
UNION
SELECT 'pallet', at.to_ref, named.n
FROM named, LATERAL (
    SELECT m.to_kind, m.to_ref FROM event_lot x JOIN event e USING (seq) JOIN move m ON m.seq = x.seq AND m.lot = x.lot
    WHERE x.lot = named.name AND e.recorded_at <= named.at AND m.to_kind IN ('pallet', 'build', 'inside', 'consignment', 'site')
    ORDER BY m.seq DESC, m.n DESC LIMIT 1
) AS at
WHERE named.kind = 'lot' AND at.to_kind = 'pallet';
SELECT append_only('refusal_about');
