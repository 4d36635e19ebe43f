-- The first schema. Instants are UTC milliseconds since 1970. Never edited once released.

-- What the service remembers about itself.
CREATE TABLE meta (
  key   TEXT NOT NULL PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Every version of a plan that a follow-up is or was pinned to.
CREATE TABLE plan (
  version         TEXT NOT NULL PRIMARY KEY,
  plan_id         TEXT NOT NULL,
  body            TEXT NOT NULL,
  added_at_utc_ms INTEGER NOT NULL,
  CONSTRAINT plan_version_is_not_empty CHECK (length(version) > 0),
  CONSTRAINT plan_body_is_json CHECK (json_valid(body))
) STRICT, WITHOUT ROWID;

-- One row per follow-up: where it stands. All of it but the client's reference can be rebuilt
-- from the journal.
CREATE TABLE follow_up (
  id                 INTEGER PRIMARY KEY,
  client_ref         TEXT NOT NULL UNIQUE,
  plan               TEXT NOT NULL REFERENCES plan (version),
  enrolled_at_utc_ms INTEGER NOT NULL,
  entries            INTEGER NOT NULL,
  last_entry         INTEGER,
  last_hash          BLOB NOT NULL,
  next_due_at_utc_ms INTEGER,
  standing           TEXT NOT NULL,
  step               INTEGER,
  alert              TEXT NOT NULL,
  state_format       INTEGER NOT NULL,
  state              BLOB NOT NULL,
  CONSTRAINT follow_up_with_entries_knows_its_last CHECK ((entries = 0) = (last_entry IS NULL)),
  CONSTRAINT follow_up_hash_is_sha256 CHECK (length(last_hash) = 32),
  CONSTRAINT follow_up_standing_is_known
    CHECK (standing IN ('open', 'suspended', 'stopped', 'paused', 'closed')),
  CONSTRAINT follow_up_alert_is_known CHECK (alert IN ('none', 'open', 'acknowledged')),
  CONSTRAINT follow_up_closed_has_nothing_due
    CHECK (standing <> 'closed' OR next_due_at_utc_ms IS NULL)
) STRICT;

CREATE INDEX follow_up_by_due ON follow_up (next_due_at_utc_ms)
  WHERE next_due_at_utc_ms IS NOT NULL;

-- What made something happen: a due time, a reply, a command. References only, no names or words.
CREATE TABLE occasion (
  id        INTEGER PRIMARY KEY,
  follow_up INTEGER REFERENCES follow_up (id),
  kind      TEXT NOT NULL,
  at_utc_ms INTEGER NOT NULL,
  detail    TEXT NOT NULL,
  CONSTRAINT occasion_detail_is_json CHECK (json_valid(detail))
) STRICT;

CREATE TRIGGER occasion_is_never_changed BEFORE UPDATE ON occasion
BEGIN SELECT RAISE(ABORT, 'occasions are append-only'); END;
CREATE TRIGGER occasion_is_never_deleted BEFORE DELETE ON occasion
BEGIN SELECT RAISE(ABORT, 'occasions are append-only'); END;

-- The record of facts. The entries of one follow-up are linked backwards by `previous`, which
-- takes the place of an index: an index would cost one more scattered page for every due look.
CREATE TABLE journal (
  seq       INTEGER PRIMARY KEY,
  follow_up INTEGER NOT NULL REFERENCES follow_up (id),
  number    INTEGER NOT NULL,
  previous  INTEGER,
  at_utc_ms INTEGER NOT NULL,
  rule      TEXT NOT NULL,
  occasion  INTEGER NOT NULL REFERENCES occasion (id),
  body      BLOB NOT NULL,
  hash      BLOB NOT NULL,
  CONSTRAINT journal_numbers_count_from_one CHECK (number >= 1),
  CONSTRAINT journal_only_the_first_has_no_previous CHECK ((number = 1) = (previous IS NULL)),
  CONSTRAINT journal_links_point_back CHECK (previous < seq),
  CONSTRAINT journal_hash_is_sha256 CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER journal_is_never_changed BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER journal_is_never_deleted BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;

-- Names and addresses live here and in the kept mails, nowhere else.
CREATE TABLE person (
  id        INTEGER PRIMARY KEY,
  follow_up INTEGER REFERENCES follow_up (id),
  kind      TEXT NOT NULL,
  ref       TEXT NOT NULL,
  name      TEXT NOT NULL,
  mail      TEXT NOT NULL,
  mail_key  TEXT NOT NULL,
  language  TEXT NOT NULL,
  CONSTRAINT person_kind_is_known CHECK (kind IN ('contact', 'clinician')),
  CONSTRAINT person_contact_belongs_to_a_follow_up
    CHECK ((kind = 'contact') = (follow_up IS NOT NULL))
) STRICT;

CREATE UNIQUE INDEX person_by_ref ON person (ifnull(follow_up, 0), kind, ref);
CREATE INDEX person_by_mail ON person (mail_key);

CREATE TABLE client_person (
  follow_up INTEGER PRIMARY KEY REFERENCES follow_up (id),
  call_name TEXT NOT NULL
) STRICT;

-- Mail to people. The mails themselves lie apart, so that a change of status does not rewrite
-- them and so that they can be erased sooner.
CREATE TABLE outbox (
  id                 INTEGER PRIMARY KEY,
  follow_up          INTEGER REFERENCES follow_up (id),
  cause              INTEGER REFERENCES journal (seq),
  person_kind        TEXT NOT NULL,
  person_ref         TEXT,
  target             TEXT NOT NULL,
  target_number      INTEGER,
  sender             TEXT NOT NULL,
  address            TEXT NOT NULL,
  message_id         TEXT NOT NULL UNIQUE,
  urgency            INTEGER NOT NULL,
  created_at_utc_ms  INTEGER NOT NULL,
  next_try_at_utc_ms INTEGER NOT NULL,
  attempts           INTEGER NOT NULL,
  status             TEXT NOT NULL,
  ended_at_utc_ms    INTEGER,
  last_error         TEXT,
  CONSTRAINT outbox_person_is_known CHECK (person_kind IN ('contact', 'clinician', 'clinic')),
  CONSTRAINT outbox_person_has_a_ref CHECK ((person_kind = 'clinic') = (person_ref IS NULL)),
  CONSTRAINT outbox_target_is_known CHECK (target IN ('announcement', 'look', 'alert', 'other')),
  CONSTRAINT outbox_status_is_known
    CHECK (status IN ('queued', 'sending', 'sent', 'refused', 'withdrawn')),
  CONSTRAINT outbox_only_an_ended_mail_has_an_end
    CHECK ((status IN ('queued', 'sending')) = (ended_at_utc_ms IS NULL))
) STRICT;

CREATE INDEX outbox_queue ON outbox (urgency, next_try_at_utc_ms, id) WHERE status = 'queued';
CREATE INDEX outbox_sending ON outbox (id) WHERE status = 'sending';
CREATE INDEX outbox_queued_of ON outbox (follow_up) WHERE status = 'queued';

CREATE TABLE outbox_mail (
  outbox INTEGER PRIMARY KEY REFERENCES outbox (id),
  raw    BLOB NOT NULL
) STRICT;

-- Which request a reply answers. Only a hash of the secret half is kept. Two tokens made in one
-- millisecond may share their key; the secret tells them apart.
CREATE TABLE token (
  key            INTEGER NOT NULL,
  secret_hash    BLOB NOT NULL,
  follow_up      INTEGER REFERENCES follow_up (id),
  person_kind    TEXT NOT NULL,
  person_ref     TEXT,
  target         TEXT NOT NULL,
  target_number  INTEGER,
  outbox         INTEGER REFERENCES outbox (id),
  made_at_utc_ms INTEGER NOT NULL,
  PRIMARY KEY (key, secret_hash),
  CONSTRAINT token_hash_is_sha256 CHECK (length(secret_hash) = 32),
  CONSTRAINT token_person_is_known CHECK (person_kind IN ('contact', 'clinician', 'clinic')),
  CONSTRAINT token_target_is_known CHECK (target IN ('announcement', 'look', 'alert', 'other'))
) STRICT, WITHOUT ROWID;

-- Mail from people. `place` names the mail itself, so that taking it twice changes nothing.
CREATE TABLE inbox (
  id                 INTEGER PRIMARY KEY,
  place              BLOB NOT NULL UNIQUE,
  received_at_utc_ms INTEGER NOT NULL,
  status             TEXT NOT NULL,
  attempts           INTEGER NOT NULL,
  note               TEXT NOT NULL,
  follow_up          INTEGER REFERENCES follow_up (id),
  person_kind        TEXT,
  person_ref         TEXT,
  CONSTRAINT inbox_place_is_sha256 CHECK (length(place) = 32),
  CONSTRAINT inbox_person_is_known CHECK (person_kind IN ('contact', 'clinician', 'clinic')),
  CONSTRAINT inbox_status_is_known CHECK (status IN ('new', 'taken', 'filed', 'set-aside'))
) STRICT;

CREATE INDEX inbox_waiting ON inbox (status, id) WHERE status IN ('new', 'taken');
CREATE INDEX inbox_set_aside ON inbox (id) WHERE status = 'set-aside';

CREATE TABLE inbox_mail (
  inbox INTEGER PRIMARY KEY REFERENCES inbox (id),
  raw   BLOB NOT NULL
) STRICT;

-- How far each mailbox on a server has been taken in.
CREATE TABLE mailbox (
  name         TEXT NOT NULL PRIMARY KEY,
  uid_validity INTEGER NOT NULL,
  uid          INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
