DROP INDEX orders_open_no;
