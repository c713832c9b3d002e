-- What was found at a site is a small part of all that was found: an order's snags are looked for among it alone.
CREATE INDEX problem_at_site ON problem (at, id) WHERE body ->> 'stage' IN ('receive', 'return');
