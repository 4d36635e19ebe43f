-- The past of a follow-up: looks and sittings that are settled and lie far back, in chapters that are
-- written once, so that an act writes what is recent only. All of it can be rebuilt from the journal.
-- With row ids, since a chapter is too long for a row without them, and would lie on a page of its own
-- beside it. Never edited once released.
CREATE TABLE chapter (
  follow_up INTEGER NOT NULL REFERENCES follow_up (id),
  number    INTEGER NOT NULL,
  body      BLOB NOT NULL,
  PRIMARY KEY (follow_up, number),
  CONSTRAINT chapter_numbers_count_from_zero CHECK (number >= 0)
) STRICT;
