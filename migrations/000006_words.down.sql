DROP INDEX item_words;
CREATE INDEX item_words ON item USING gin (to_tsvector('simple', body ->> 'name'));
DROP INDEX orders_words;
CREATE INDEX orders_words ON orders USING gin (to_tsvector('simple', customer || ' ' || reference));
