-- What a shop asks of today is found without what it has done in years: units being gathered, and parts at a fitting site
-- that wait for something there, or came to it lately.
CREATE INDEX build_open ON build (code) WHERE lot = '';
CREATE INDEX lot_unaccepted ON lot (place_ref) WHERE place_kind = 'site' AND NOT accepted;
CREATE INDEX lot_at_site ON lot (place_ref, arrived) WHERE place_kind = 'site';
