-- Links with which somebody without an account receives one consignment. Tokens are kept as SHA-256 of 256 random bits, the
-- link's own and the one of the browser that claimed it. An id is the person of what its bearer signs, for good; who that
-- is stands in the note alone, which can be blanked.
CREATE TABLE site_link (
    id          text        PRIMARY KEY, -- L-, the consignment's code, and which of its links
    token_sha   bytea       NOT NULL UNIQUE CHECK (length(token_sha) = 32),
    consignment text        NOT NULL,
    note        text        NOT NULL,
    made_by     text        NOT NULL,
    made_at     timestamptz NOT NULL,
    ends_at     timestamptz NOT NULL,    -- at the latest; sooner once the consignment is received
    device_sha  bytea       UNIQUE CHECK (length(device_sha) = 32),
    claimed_at  timestamptz,
    revoked_at  timestamptz,
    CHECK ((device_sha IS NULL) = (claimed_at IS NULL))
);
CREATE INDEX site_link_consignment ON site_link (consignment, made_at);
-- What was made again, wherever it is.
CREATE INDEX lot_remade ON lot ((body ->> 'remake')) WHERE body ? 'remake';

GRANT SELECT, INSERT, UPDATE ON site_link TO tagalong_app;
