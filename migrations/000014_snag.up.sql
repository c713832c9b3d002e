-- What is not as it should be at a fitting site and is no nonconformity of parts. Rows of the state: a rebuild makes them anew.
CREATE TABLE snag (
    id          text        PRIMARY KEY,
    order_no    text        NOT NULL,
    consignment text        NOT NULL, -- empty: it came with none that was named
    at          timestamptz NOT NULL,
    closed      timestamptz,
    body        jsonb       NOT NULL
);
CREATE INDEX snag_order ON snag (order_no, at);

-- A link may be for one order of its consignment: its bearer then sees, receives and accepts that order's parts only.
ALTER TABLE site_link ADD COLUMN order_no text NOT NULL DEFAULT '';

GRANT SELECT, INSERT, UPDATE ON snag TO tagalong_app;
