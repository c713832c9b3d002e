-- Photos, each under the SHA-256 of its bytes. They are part of the record: only ever added to. What happened names them by
-- hash; no table of work knows of this one, so a large row never stands in a busy one's way.
CREATE TABLE photo (
    hash        bytea       PRIMARY KEY CHECK (length(hash) = 32),
    kind        text        NOT NULL, -- media type of bytes and thumb
    width       integer     NOT NULL CHECK (width > 0),
    height      integer     NOT NULL CHECK (height > 0),
    bytes       bytea       NOT NULL CHECK (length(bytes) <= 300000),
    thumb       bytea       NOT NULL CHECK (length(thumb) <= 15000),
    taken_by    text        NOT NULL, -- person; empty: whoever stood at the tablet
    tablet      text        NOT NULL,
    station     text        NOT NULL,
    recorded_at timestamptz NOT NULL
);
-- Beside the row and not compressed once more: looking whether a photo is there reads none of it.
ALTER TABLE photo ALTER COLUMN bytes SET STORAGE EXTERNAL, ALTER COLUMN thumb SET STORAGE EXTERNAL;
SELECT append_only('photo');
