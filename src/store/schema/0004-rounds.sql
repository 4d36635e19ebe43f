-- Requests about several clients that go to one person in one mail. Their own mails are carried by it
-- and share its fate. Never edited once released.
CREATE TABLE round_part (
  round INTEGER NOT NULL REFERENCES outbox (id),
  part  INTEGER NOT NULL REFERENCES outbox (id),
  PRIMARY KEY (round, part)
) STRICT, WITHOUT ROWID;

CREATE INDEX round_of_part ON round_part (part);

-- As in the step before: the text of the checks is changed in place, since every row that fitted the
-- old ones fits the new ones.
PRAGMA writable_schema = ON;

UPDATE sqlite_schema SET sql = replace(replace(sql,
    'OR status = ''withdrawn''', 'OR status = ''withdrawn'' OR status = ''carried'''),
    '(status IN (''queued'', ''sending'')) = (ended_at_utc_ms IS NULL)',
    '(status = ''queued'' OR status = ''sending'' OR status = ''carried'') = (ended_at_utc_ms IS NULL)')
  WHERE type = 'table' AND name = 'outbox';

PRAGMA writable_schema = RESET;

CREATE INDEX outbox_carried ON outbox (follow_up) WHERE status = 'carried';
