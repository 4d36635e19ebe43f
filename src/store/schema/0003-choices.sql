-- The same checks, written so that SQLite makes no table of its own for them: it does for an IN with
-- more than two constants, at each row that is written. No row and no meaning changes, so the text of
-- the tables is changed in place, as SQLite's manual describes for checks; a program that has the
-- database open meanwhile goes on with the old text, which means the same. Never edited once released.
PRAGMA writable_schema = ON;

UPDATE sqlite_schema SET sql = replace(replace(sql,
    'standing IN (''open'', ''suspended'', ''stopped'', ''paused'', ''closed'')',
    'standing = ''open'' OR standing = ''suspended'' OR standing = ''stopped''
      OR standing = ''paused'' OR standing = ''closed'''),
    'alert IN (''none'', ''open'', ''acknowledged'')',
    'alert = ''none'' OR alert = ''open'' OR alert = ''acknowledged''')
  WHERE type = 'table' AND name = 'follow_up';

UPDATE sqlite_schema SET sql = replace(replace(replace(sql,
    'person_kind IN (''contact'', ''clinician'', ''clinic'')',
    'person_kind = ''contact'' OR person_kind = ''clinician'' OR person_kind = ''clinic'''),
    'target IN (''announcement'', ''look'', ''alert'', ''other'')',
    'target = ''announcement'' OR target = ''look'' OR target = ''alert'' OR target = ''other'''),
    'status IN (''queued'', ''sending'', ''sent'', ''refused'', ''withdrawn'')',
    'status = ''queued'' OR status = ''sending'' OR status = ''sent'' OR status = ''refused''
      OR status = ''withdrawn''')
  WHERE type = 'table' AND name IN ('outbox', 'token');

UPDATE sqlite_schema SET sql = replace(replace(sql,
    'person_kind IN (''contact'', ''clinician'', ''clinic'')',
    'person_kind = ''contact'' OR person_kind = ''clinician'' OR person_kind = ''clinic'''),
    'status IN (''new'', ''taken'', ''filed'', ''set-aside'')',
    'status = ''new'' OR status = ''taken'' OR status = ''filed'' OR status = ''set-aside''')
  WHERE type = 'table' AND name = 'inbox';

PRAGMA writable_schema = RESET;
