-- The latest refusals are read in just this order, however many there are.
CREATE INDEX refusal_latest ON refusal (at, n);
DROP INDEX refusal_at;
