-- What the shop has laid down. Each row carries the version of the book it last changed in.

CREATE TABLE book_version (
    one     boolean PRIMARY KEY DEFAULT true CHECK (one),
    version bigint  NOT NULL
);
INSERT INTO book_version (version) VALUES (0);

CREATE TABLE shop (
    one     boolean PRIMARY KEY DEFAULT true CHECK (one),
    version bigint  NOT NULL,
    body    jsonb   NOT NULL
);
CREATE TABLE stage      (key text PRIMARY KEY, version bigint NOT NULL, body jsonb NOT NULL);
CREATE TABLE route      (key text PRIMARY KEY, version bigint NOT NULL, body jsonb NOT NULL);
CREATE TABLE item       (key text PRIMARY KEY, version bigint NOT NULL, body jsonb NOT NULL);
CREATE TABLE station    (key text PRIMARY KEY, version bigint NOT NULL, body jsonb NOT NULL);
CREATE TABLE instrument (key text PRIMARY KEY, version bigint NOT NULL, body jsonb NOT NULL);
CREATE TABLE batch      (key text PRIMARY KEY, version bigint NOT NULL, body jsonb NOT NULL);
-- A person's name stands in this one place, so that it can be blanked; everything else keeps the key.
CREATE TABLE person     (key text PRIMARY KEY, version bigint NOT NULL, body jsonb NOT NULL, name text NOT NULL);

CREATE INDEX item_key ON item (lower(key) text_pattern_ops);
CREATE INDEX item_words ON item USING gin (to_tsvector('simple', body ->> 'name'));

-- What each version changed, for good; without names.
CREATE TABLE book_change (
    version bigint NOT NULL,
    kind    text   NOT NULL,
    key     text   NOT NULL,
    body    jsonb  NOT NULL,
    PRIMARY KEY (version, kind, key)
);
SELECT append_only('book_change');

GRANT SELECT, UPDATE ON book_version TO tagalong_app;
GRANT SELECT, INSERT, UPDATE ON shop, stage, route, item, station, person, instrument, batch TO tagalong_app;
