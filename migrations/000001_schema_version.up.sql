-- The role the server works as. It owns nothing, so it can't undo what protects the record.
-- On a private server it exists already; elsewhere it is made here or by the administrator.
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'tagalong_app') THEN
        BEGIN
            CREATE ROLE tagalong_app NOLOGIN;
        EXCEPTION
            WHEN insufficient_privilege THEN
                RAISE EXCEPTION 'the role tagalong_app is missing and % may not make it', current_user
                    USING HINT = 'Have the administrator run: CREATE ROLE tagalong_app NOLOGIN;';
        END;
    END IF;
END
$$;

GRANT USAGE ON SCHEMA tagalong TO tagalong_app;
