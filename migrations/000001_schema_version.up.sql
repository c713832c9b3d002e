-- The role the server works as. It owns nothing, so it can't undo what protects the record.
-- On a private server it exists already; elsewhere it is made here or by the administrator.
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'tagalong_app') THEN
        CREATE ROLE tagalong_app NOLOGIN;
        EXECUTE format('GRANT tagalong_app TO %I', current_user); -- to work as it
    END IF;
END
$$;

GRANT USAGE ON SCHEMA tagalong TO tagalong_app;
