DROP INDEX consignment_owed;
ALTER TABLE consignment DROP COLUMN owed;
