-- Open orders are found by how their numbers begin without those closed in years.
CREATE INDEX orders_open_no ON orders (lower(no) text_pattern_ops) WHERE open;
