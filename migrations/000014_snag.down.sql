ALTER TABLE site_link DROP COLUMN order_no;
DROP TABLE snag;
