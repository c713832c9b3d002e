REVOKE USAGE ON SCHEMA tagalong FROM tagalong_app;
