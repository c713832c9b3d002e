-- References such as QR-318, BHE/26/881 or TP_0092.a: the parser of texts takes -318 for a number below zero and
-- BHE/26/881 for the name of a file, so that nobody typing them finds them. Each run of letters and digits is a word.
DROP INDEX orders_words;
CREATE INDEX orders_words ON orders USING gin (to_tsvector('simple', translate(customer || ' ' || reference, '-+/.@_~<>&', '          ')));
DROP INDEX item_words;
CREATE INDEX item_words ON item USING gin (to_tsvector('simple', translate(body ->> 'name', '-+/.@_~<>&', '          ')));
