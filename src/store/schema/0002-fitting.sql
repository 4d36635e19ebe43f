-- Fittings, by follow-up and in order. They hold names and free words of people, so they lie apart
-- from the journal, which has their versions only. Never edited once released.
CREATE TABLE fitting (
  follow_up       INTEGER NOT NULL REFERENCES follow_up (id),
  number          INTEGER NOT NULL,
  version         TEXT NOT NULL,
  record          TEXT NOT NULL,
  kept_at_utc_ms  INTEGER NOT NULL,
  in_spite_by     TEXT,
  in_spite_reason TEXT,
  PRIMARY KEY (follow_up, number),
  CONSTRAINT fitting_numbers_count_from_one CHECK (number >= 1),
  CONSTRAINT fitting_record_is_json CHECK (json_valid(record)),
  CONSTRAINT fitting_begun_in_spite_has_a_reason
    CHECK ((in_spite_by IS NULL) = (in_spite_reason IS NULL))
) STRICT, WITHOUT ROWID;
