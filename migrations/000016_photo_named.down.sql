ALTER TABLE site_link DROP COLUMN printed;
DROP FUNCTION sweep_photos(integer);
GRANT TRIGGER ON photo TO CURRENT_USER;
DROP TRIGGER append_only_but_unnamed ON photo;
DROP TRIGGER append_only ON photo;
DROP FUNCTION refuse_unless_unnamed();
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON photo FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
REVOKE TRIGGER ON photo FROM tagalong_app;
DROP TABLE photo_named;
