-- What a mail is sent with (from which address, to which, under which Message-ID) lies with the mail
-- itself and is erased with it: the address that answers go to holds the secret of a token, of which
-- nothing but a hash is to stay. Mail that has ended is never sent again and needs none of it any
-- more. That a Message-ID is used once is seen to where tokens are kept, which it is made from; it had
-- an index of its own. Never edited once released.
ALTER TABLE outbox_mail ADD COLUMN sender TEXT NOT NULL DEFAULT '';
ALTER TABLE outbox_mail ADD COLUMN address TEXT NOT NULL DEFAULT '';
ALTER TABLE outbox_mail ADD COLUMN message_id TEXT NOT NULL DEFAULT '';

UPDATE outbox_mail SET (sender, address, message_id) =
    (SELECT sender, address, message_id FROM outbox WHERE id = outbox)
  WHERE outbox IN (SELECT id FROM outbox WHERE ended_at_utc_ms IS NULL);

-- SQLite can take an index of a constraint away only with its table. What refers to the table goes by
-- its name and by the numbers of its rows, which stay.
CREATE TABLE outbox_anew (
  id                 INTEGER PRIMARY KEY,
  follow_up          INTEGER REFERENCES follow_up (id),
  cause              INTEGER REFERENCES journal (seq),
  person_kind        TEXT NOT NULL,
  person_ref         TEXT,
  target             TEXT NOT NULL,
  target_number      INTEGER,
  urgency            INTEGER NOT NULL,
  created_at_utc_ms  INTEGER NOT NULL,
  next_try_at_utc_ms INTEGER NOT NULL,
  attempts           INTEGER NOT NULL,
  status             TEXT NOT NULL,
  ended_at_utc_ms    INTEGER,
  last_error         TEXT,
  CONSTRAINT outbox_person_is_known
    CHECK (person_kind = 'contact' OR person_kind = 'clinician' OR person_kind = 'clinic'),
  CONSTRAINT outbox_person_has_a_ref CHECK ((person_kind = 'clinic') = (person_ref IS NULL)),
  CONSTRAINT outbox_target_is_known
    CHECK (target = 'announcement' OR target = 'look' OR target = 'alert' OR target = 'other'),
  CONSTRAINT outbox_status_is_known
    CHECK (status = 'queued' OR status = 'sending' OR status = 'sent' OR status = 'refused'
      OR status = 'withdrawn' OR status = 'carried'),
  CONSTRAINT outbox_only_an_ended_mail_has_an_end
    CHECK ((status = 'queued' OR status = 'sending' OR status = 'carried')
      = (ended_at_utc_ms IS NULL))
) STRICT;

INSERT INTO outbox_anew
  SELECT id, follow_up, cause, person_kind, person_ref, target, target_number, urgency,
         created_at_utc_ms, next_try_at_utc_ms, attempts, status, ended_at_utc_ms, last_error
  FROM outbox;
DROP TABLE outbox;
ALTER TABLE outbox_anew RENAME TO outbox;

-- The number of the row stands at the end of every index by itself.
CREATE INDEX outbox_queue ON outbox (urgency, next_try_at_utc_ms) WHERE status = 'queued';
CREATE INDEX outbox_sending ON outbox (id) WHERE status = 'sending';
CREATE INDEX outbox_queued_of ON outbox (follow_up) WHERE status = 'queued';
CREATE INDEX outbox_carried ON outbox (follow_up) WHERE status = 'carried';
