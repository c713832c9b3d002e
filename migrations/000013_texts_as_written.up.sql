-- An event and a lot's body are written by every command and read whole. As jsonb they were taken apart at every writing and
-- put together at every reading, which was most of what a command of many lots cost; as json they are kept as the text that
-- was written. What queries ask of a lot has a column of its own instead.
ALTER TABLE event ALTER COLUMN payload TYPE json USING payload::json;

DROP VIEW held_lot;
DROP INDEX lot_lost, lot_remake, lot_remade, lot_place, lot_live;

ALTER TABLE lot
    ADD COLUMN lost      boolean NOT NULL DEFAULT false, -- nobody can find some of its parts
    ADD COLUMN remake    text    NOT NULL DEFAULT '',    -- the problem it is made again for
    ADD COLUMN accepted boolean NOT NULL DEFAULT false, -- by the customer, at the site
    ADD COLUMN gauges    text[]  NOT NULL DEFAULT '{}';  -- it was measured with
UPDATE lot SET lost = body ? 'lost', remake = coalesce(body ->> 'remake', ''), accepted = coalesce(body -> 'facts' ? 'accepted', false),
    gauges = ARRAY(SELECT k FROM jsonb_object_keys(body -> 'gauges') AS k ORDER BY k COLLATE "C")
WHERE body ?| ARRAY['lost', 'remake', 'gauges'] OR body -> 'facts' ? 'accepted';
ALTER TABLE lot ALTER COLUMN lost DROP DEFAULT, ALTER COLUMN remake DROP DEFAULT, ALTER COLUMN accepted DROP DEFAULT,
    ALTER COLUMN gauges DROP DEFAULT, ALTER COLUMN body TYPE json USING body::json;

-- No index rests on the body, on a count or on what comes next, so that a lot that is counted or signed off stays in the
-- indexes as it is; live lots are found by lot_live_item. The name first:
-- a planner without statistics would else look through all pallets for the kind alone.
CREATE INDEX lot_place ON lot (place_ref, place_kind);
CREATE INDEX lot_lost ON lot (id) WHERE lost;
CREATE INDEX lot_remake ON lot (remake) WHERE remake <> '';

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
SELECT l.id, h.at FROM hold h JOIN lot l ON h.ref = ANY(l.gauges)
WHERE h.released IS NULL AND h.scope = 'gauge' AND l.live
  AND (h.since IS NULL OR (l.body -> 'gauges' ->> h.ref)::timestamptz > h.since)
UNION ALL
SELECT l.id, p.at FROM problem p JOIN lot l ON l.id = p.lot WHERE p.closed IS NULL AND l.live;

GRANT SELECT ON held_lot TO tagalong_app;
