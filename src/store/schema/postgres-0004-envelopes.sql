-- What a mail is sent with (from which address, to which, under which Message-ID) lies with the mail
-- itself and is erased with it: the address that answers go to holds the secret of a token, of which
-- nothing but a hash is to stay. Mail that has ended is never sent again and needs none of it any
-- more. That a Message-ID is used once is seen to where tokens are kept, which it is made from; it had
-- an index of its own. Never edited once released.
ALTER TABLE outbox_mail
  ADD COLUMN sender TEXT COLLATE "C" NOT NULL DEFAULT '',
  ADD COLUMN address TEXT COLLATE "C" NOT NULL DEFAULT '',
  ADD COLUMN message_id TEXT COLLATE "C" NOT NULL DEFAULT '';

UPDATE outbox_mail
  SET sender = outbox.sender, address = outbox.address, message_id = outbox.message_id
  FROM outbox WHERE outbox.id = outbox_mail.outbox AND outbox.ended_at_utc_ms IS NULL;

ALTER TABLE outbox
  DROP COLUMN sender,
  DROP COLUMN address,
  DROP COLUMN message_id;
