-- Consignments that took carriers of the shop's own which have not all come back: the dock lists them.
ALTER TABLE consignment ADD COLUMN owed boolean NOT NULL DEFAULT false;
CREATE INDEX consignment_owed ON consignment (gone, code) WHERE owed;
