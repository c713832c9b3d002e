CREATE INDEX refusal_at ON refusal (at);
DROP INDEX refusal_latest;
