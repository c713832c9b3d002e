DROP INDEX lot_remade;
DROP TABLE site_link;
