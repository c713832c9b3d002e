DROP INDEX lot_remake;
DROP INDEX nest_remake;
DROP INDEX lot_lost;
DROP INDEX problem_at;
