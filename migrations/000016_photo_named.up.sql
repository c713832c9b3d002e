-- Which photos the record names. A photo is sent before the command it goes with; where no command ever named it, nobody
-- can come upon it again, and after a day it may go.
CREATE TABLE photo_named (
    seq  bigint NOT NULL,
    hash bytea  NOT NULL CHECK (length(hash) = 32),
    PRIMARY KEY (seq, hash)
);
CREATE INDEX photo_named_hash ON photo_named (hash);
INSERT INTO photo_named (seq, hash)
SELECT DISTINCT e.seq, p.hash
FROM event e CROSS JOIN LATERAL json_array_elements_text(e.payload -> 'photos') AS named(name)
JOIN photo p ON encode(p.hash, 'hex') = left(named.name, 64)
WHERE json_typeof(e.payload -> 'photos') = 'array';
SELECT append_only('photo_named');

-- What is named stays for good, as everything on record does.
CREATE FUNCTION refuse_unless_unnamed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.recorded_at > now() - interval '1 day' OR EXISTS (SELECT FROM photo_named n WHERE n.hash = OLD.hash) THEN
        RAISE EXCEPTION 'a photo that is named on record, or not a day old, is never deleted'
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN OLD;
END
$$;
GRANT TRIGGER ON photo TO CURRENT_USER; -- an owner that is the server's own role gave it up with append_only
DROP TRIGGER append_only ON photo;
CREATE TRIGGER append_only BEFORE UPDATE OR TRUNCATE ON photo FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only_but_unnamed BEFORE DELETE ON photo FOR EACH ROW EXECUTE FUNCTION refuse_unless_unnamed();
REVOKE TRIGGER ON photo FROM tagalong_app;

-- Takes away so many photos at most that nothing named within a day, and says how many. The server may do this and not
-- delete from the table itself. It is called with commands kept out, or one that is about to name such a photo loses it.
CREATE FUNCTION sweep_photos(most integer) RETURNS bigint LANGUAGE sql SECURITY DEFINER SET search_path = tagalong, pg_temp AS $$
    WITH swept AS (
        DELETE FROM photo WHERE hash IN (
            SELECT p.hash FROM photo p
            WHERE p.recorded_at < now() - interval '1 day' AND NOT EXISTS (SELECT FROM photo_named n WHERE n.hash = p.hash)
            LIMIT most)
        RETURNING 1)
    SELECT count(*) FROM swept
$$;
REVOKE ALL ON FUNCTION sweep_photos(integer) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION sweep_photos(integer) TO tagalong_app;

-- A link that stands on a printed packing list: a later print withdraws it.
ALTER TABLE site_link ADD COLUMN printed boolean NOT NULL DEFAULT false;
