DROP VIEW held_lot;
DROP INDEX lot_remake, lot_lost, lot_place;
ALTER TABLE lot DROP COLUMN gauges, DROP COLUMN accepted, DROP COLUMN remake, DROP COLUMN lost,
    ALTER COLUMN body TYPE jsonb USING body::jsonb;
CREATE INDEX lot_live ON lot (next_stage) WHERE live;
CREATE INDEX lot_place ON lot (place_ref, place_kind) WHERE qty > 0;
CREATE INDEX lot_remade ON lot ((body ->> 'remake')) WHERE body ? 'remake';
CREATE INDEX lot_remake ON lot ((body ->> 'remake')) WHERE live AND body ? 'remake';
CREATE INDEX lot_lost ON lot (id) WHERE body ? 'lost';

-- Live lots that something stops: an open hold that names them, what they were split from, their pallet, item, heat,
-- batch, order or a gauge they were measured with; or an open problem. Holds are few, so nothing is stored.
-- The same rule as HeldBy of package core.
CREATE VIEW held_lot AS
SELECT l.id AS lot, h.at FROM hold h JOIN lot l ON l.id = h.ref WHERE h.released IS NULL AND h.scope = 'lot' AND l.live
UNION ALL
SELECT l.id, h.at FROM hold h JOIN lot_parent p ON p.parent = h.ref JOIN lot l ON l.id = p.lot
WHERE h.released IS NULL AND h.scope = 'lot' AND l.live
UNION ALL
SELECT l.id, h.at FROM hold h JOIN lot l ON l.place_kind = 'pallet' AND l.place_ref = h.ref AND l.qty > 0
WHERE h.released IS NULL AND h.scope = 'pallet' AND l.live
UNION ALL
SELECT l.id, h.at FROM hold h JOIN lot l ON l.item = split_part(h.ref, '@', 1) AND h.ref IN (l.item, l.item || '@' || l.rev)
WHERE h.released IS NULL AND h.scope = 'item' AND l.live
UNION ALL
SELECT l.id, h.at FROM hold h JOIN lot_heat x ON x.heat = h.ref JOIN lot l ON l.id = x.lot
WHERE h.released IS NULL AND h.scope = 'heat' AND l.live
UNION ALL
SELECT l.id, h.at FROM hold h JOIN lot_batch x ON x.batch = h.ref JOIN lot l ON l.id = x.lot
WHERE h.released IS NULL AND h.scope = 'batch' AND l.live
UNION ALL
SELECT l.id, h.at FROM hold h JOIN lot l ON l.owner_order = h.ref AND l.owner_order <> ''
WHERE h.released IS NULL AND h.scope = 'order' AND l.live
UNION ALL
SELECT l.id, h.at FROM hold h JOIN lot l ON l.body -> 'gauges' ? h.ref
WHERE h.released IS NULL AND h.scope = 'gauge' AND l.live
  AND (h.since IS NULL OR (l.body -> 'gauges' ->> h.ref)::timestamptz > h.since)
UNION ALL
SELECT l.id, p.at FROM problem p JOIN lot l ON l.id = p.lot WHERE p.closed IS NULL AND l.live;

GRANT SELECT ON held_lot TO tagalong_app;

ALTER TABLE event ALTER COLUMN payload TYPE jsonb USING payload::jsonb;
