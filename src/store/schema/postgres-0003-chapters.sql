-- The past of a follow-up: looks and sittings that are settled and lie far back, in chapters that are
-- written once, so that an act writes what is recent only. All of it can be rebuilt from the journal.
-- Never edited once released.
CREATE TABLE chapter (
  follow_up BIGINT NOT NULL REFERENCES follow_up (id),
  number    BIGINT NOT NULL,
  body      BYTEA NOT NULL,
  PRIMARY KEY (follow_up, number),
  CONSTRAINT chapter_numbers_count_from_zero CHECK (number >= 0)
);
