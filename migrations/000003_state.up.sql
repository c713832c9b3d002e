-- The state: rows a rebuild makes anew from the record. body is the whole row as the core knows it; the other
-- columns repeat what queries ask for. No counters: nothing here is written by every command.

CREATE TABLE pallet (
    code        text    PRIMARY KEY,
    kind        text    NOT NULL,
    label       text    NOT NULL,
    station     text    NOT NULL,
    bound       text    NOT NULL,
    slot        text    NOT NULL,
    consignment text    NOT NULL,
    since       timestamptz,
    live        boolean NOT NULL, -- parts rest on it
    body        jsonb   NOT NULL
) WITH (fillfactor = 80);
CREATE INDEX pallet_station ON pallet (station) WHERE live;
CREATE INDEX pallet_bound ON pallet (bound) WHERE live AND bound <> '';
CREATE INDEX pallet_sheet ON pallet (code) WHERE live AND kind = 'sheet';
CREATE INDEX pallet_code ON pallet (code text_pattern_ops);
CREATE INDEX pallet_label ON pallet (lower(label) text_pattern_ops) WHERE label <> '';

CREATE TABLE lot (
    id          text    PRIMARY KEY,
    item        text    NOT NULL,
    rev         text    NOT NULL,
    owner_order text    NOT NULL, -- empty: stock
    owner_line  integer NOT NULL,
    place_kind  text    NOT NULL,
    place_ref   text    NOT NULL,
    qty         integer NOT NULL CHECK (qty >= 0),
    next_stage  text    NOT NULL, -- empty: its route has ended
    next_stages text[]  NOT NULL, -- with those drawn parallel to it
    minutes     double precision NOT NULL, -- of work in the next step
    promised    date,
    arrived     timestamptz,
    begun       boolean NOT NULL,
    packed      boolean NOT NULL,
    shipped     boolean NOT NULL,
    live        boolean NOT NULL, -- in the shop, to be worked on
    body        jsonb   NOT NULL
) WITH (fillfactor = 80);
-- The name first: a planner without statistics would else look through all pallets for the kind alone.
CREATE INDEX lot_place ON lot (place_ref, place_kind) WHERE qty > 0;
CREATE INDEX lot_owner ON lot (owner_order, owner_line) WHERE owner_order <> '';
CREATE INDEX lot_live ON lot (next_stage) WHERE live;
CREATE INDEX lot_live_item ON lot (item, rev) WHERE live;

-- Where a lot comes from and what is in it, for histories and recalls.
CREATE TABLE lot_parent (lot text NOT NULL, parent text NOT NULL, PRIMARY KEY (lot, parent));
CREATE INDEX lot_parent_parent ON lot_parent (parent);
CREATE TABLE lot_heat (heat text NOT NULL, lot text NOT NULL, PRIMARY KEY (heat, lot));
CREATE TABLE lot_sheet (sheet text NOT NULL, lot text NOT NULL, PRIMARY KEY (sheet, lot));
CREATE TABLE lot_batch (batch text NOT NULL, lot text NOT NULL, PRIMARY KEY (batch, lot));

CREATE TABLE build (
    code        text    PRIMARY KEY,
    item        text    NOT NULL,
    owner_order text    NOT NULL,
    owner_line  integer NOT NULL,
    lot         text    NOT NULL, -- empty: still being gathered
    body        jsonb   NOT NULL
);
CREATE INDEX build_owner ON build (owner_order) WHERE owner_order <> '';

CREATE TABLE consignment (
    code     text  PRIMARY KEY,
    site     text  NOT NULL,
    day      date,
    gone     timestamptz,
    received timestamptz,
    body     jsonb NOT NULL
);
CREATE INDEX consignment_code ON consignment (code text_pattern_ops);
CREATE INDEX consignment_open ON consignment (day) WHERE received IS NULL;
CREATE INDEX consignment_received ON consignment (received) WHERE received IS NOT NULL;

CREATE TABLE hold (
    id       text  PRIMARY KEY,
    scope    text  NOT NULL,
    ref      text  NOT NULL,
    since    timestamptz,
    at       timestamptz NOT NULL,
    released timestamptz,
    body     jsonb NOT NULL
);
CREATE INDEX hold_open ON hold (at) WHERE released IS NULL;

CREATE TABLE problem (
    id     text  PRIMARY KEY,
    lot    text  NOT NULL,
    at     timestamptz NOT NULL,
    closed timestamptz,
    body   jsonb NOT NULL
);
CREATE INDEX problem_open ON problem (at) WHERE closed IS NULL;
CREATE INDEX problem_open_lot ON problem (lot) WHERE closed IS NULL;

CREATE TABLE abrasive (id text PRIMARY KEY, body jsonb NOT NULL);

CREATE TABLE orders (
    no        text    PRIMARY KEY,
    customer  text    NOT NULL,
    reference text    NOT NULL,
    promised  date,
    priority  integer NOT NULL,
    open      boolean NOT NULL DEFAULT true, -- something asked is not shipped yet
    body      jsonb   NOT NULL
);
CREATE INDEX orders_open ON orders (promised, no) WHERE open;
CREATE INDEX orders_no ON orders (lower(no) text_pattern_ops);
CREATE INDEX orders_words ON orders USING gin (to_tsvector('simple', customer || ' ' || reference));

CREATE TABLE order_line (
    order_no text    NOT NULL,
    line     integer NOT NULL,
    item     text    NOT NULL,
    rev      text    NOT NULL,
    qty      integer NOT NULL CHECK (qty >= 0),
    PRIMARY KEY (order_no, line)
);
CREATE INDEX order_line_item ON order_line (item);

CREATE TABLE nest (
    id        text    PRIMARY KEY,
    sheet     text    NOT NULL,
    separated boolean NOT NULL,
    body      jsonb   NOT NULL
);
CREATE INDEX nest_sheet ON nest (sheet) WHERE sheet <> '';
CREATE INDEX nest_open ON nest (id) WHERE NOT separated;

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

GRANT SELECT, INSERT, UPDATE ON pallet, lot, build, consignment, hold, problem, abrasive, orders, nest TO tagalong_app;
GRANT SELECT, INSERT, UPDATE, DELETE ON order_line TO tagalong_app;
GRANT SELECT, INSERT ON lot_parent, lot_heat, lot_sheet, lot_batch TO tagalong_app;
GRANT SELECT ON held_lot TO tagalong_app;
