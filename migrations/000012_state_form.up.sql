-- In which form the state's rows were made from the record: one row. A server that gives them another form makes them
-- anew as it starts; nought is a form of before this table.
CREATE TABLE state_form (
    one  boolean PRIMARY KEY DEFAULT true CHECK (one),
    form integer NOT NULL
);
INSERT INTO state_form (form) VALUES (0);
