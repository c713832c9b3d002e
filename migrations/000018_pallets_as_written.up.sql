-- As with lots: a pallet is read whole, and what queries ask of it has a column of its own. As json it is kept as the text that
-- was written, which an order of many pallets is read much quicker from.
ALTER TABLE pallet ALTER COLUMN body TYPE json USING body::json;
