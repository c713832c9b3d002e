ALTER TABLE pallet ALTER COLUMN body TYPE jsonb USING body::jsonb;
