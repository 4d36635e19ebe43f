-- Requests about several clients that go to one person in one mail. Their own mails are carried by it
-- and share its fate. Never edited once released.
CREATE TABLE round_part (
  round BIGINT NOT NULL REFERENCES outbox (id),
  part  BIGINT NOT NULL REFERENCES outbox (id),
  PRIMARY KEY (round, part)
);

CREATE INDEX round_of_part ON round_part (part);

ALTER TABLE outbox DROP CONSTRAINT outbox_status_is_known;
ALTER TABLE outbox ADD CONSTRAINT outbox_status_is_known
  CHECK (status IN ('queued', 'sending', 'sent', 'refused', 'withdrawn', 'carried'));
ALTER TABLE outbox DROP CONSTRAINT outbox_only_an_ended_mail_has_an_end;
ALTER TABLE outbox ADD CONSTRAINT outbox_only_an_ended_mail_has_an_end
  CHECK ((status IN ('queued', 'sending', 'carried')) = (ended_at_utc_ms IS NULL));

CREATE INDEX outbox_carried ON outbox (follow_up) WHERE status = 'carried';
