-- The register of nonconformities is read by when they were found, open or not.
CREATE INDEX problem_at ON problem (at DESC, id);

-- Lots with parts that nobody can find.
CREATE INDEX lot_lost ON lot (id) WHERE body ? 'lost';

-- What is to be made again, until it is there.
CREATE INDEX nest_remake ON nest (id text_pattern_ops) WHERE NOT separated;
CREATE INDEX lot_remake ON lot ((body ->> 'remake')) WHERE live AND body ? 'remake';
