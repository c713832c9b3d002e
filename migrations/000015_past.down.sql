DROP INDEX lot_at_site, lot_unaccepted, build_open;
