DROP TABLE badge, pin, pin_code, tries, enrolment, tablet, session, vault_log;
