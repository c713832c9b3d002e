-- Which events are about an order: those about a lot it owns. A lot keeps its owner for good, so this is settled as the event
-- is recorded, and the latest of an order are found without asking each of its lots.
CREATE TABLE event_order (
    order_no text   NOT NULL,
    seq      bigint NOT NULL,
    PRIMARY KEY (order_no, seq)
);
INSERT INTO event_order (order_no, seq)
SELECT DISTINCT l.owner_order, x.seq FROM event_lot x JOIN lot l ON l.id = x.lot WHERE l.owner_order <> ''
ORDER BY 1, 2;
SELECT append_only('event_order');
