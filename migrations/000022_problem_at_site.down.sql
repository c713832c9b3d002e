DROP INDEX problem_at_site;
