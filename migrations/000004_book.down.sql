DROP TABLE book_version, shop, stage, route, item, station, person, instrument, batch, book_change;
