//! The service's outbox, filled and looked at from outside.
//!
//! Never here: sending.
//! Promises: a mail that is put in is a request of the service's own, under a Message-ID of its own.

use std::path::Path;

use chrono::Utc;
use fadewatch::store::{DATABASE, Mode, NewMail, PersonRef, RequestTarget, Store, Urgency};
use rusqlite::{Connection, OpenFlags};

/// What has been sent of some mails.
pub struct Sent {
    pub count: usize,
    /// From the first acceptance to the last, in seconds.
    pub seconds: f64,
}

/// The service's database, to look into.
pub fn read(data: &Path) -> Connection {
    Connection::open_with_flags(data.join(DATABASE), OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap()
}

/// A mail of the service's own about a `look` or an `alert`, with its Message-ID.
pub fn sample(data: &Path, target: &str) -> (String, String) {
    let (id, raw): (String, Vec<u8>) = read(data)
        .query_row(
            "SELECT message_id, raw FROM outbox JOIN outbox_mail ON outbox = id WHERE target = ?1",
            [target],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .unwrap();
    (id, String::from_utf8(raw).unwrap())
}

/// Puts so many requests in and wakes the service.
pub fn put(data: &Path, address: &str, name: &str, count: usize) {
    let (id, raw) = sample(data, "look");
    let (name, address) = (name.to_owned(), address.to_owned());
    let store = Store::open(data, Mode::Command).unwrap();
    store
        .write_blocking(move |tx| {
            for n in 0..count {
                let message_id = format!("<{name}.{n}@clinic.test>");
                let mail = NewMail {
                    follow_up: None,
                    cause: None,
                    person: PersonRef::Clinic,
                    target: RequestTarget::Other,
                    sender: address.clone(),
                    address: address.clone(),
                    raw: raw.replace(&id, &message_id).into_bytes(),
                    message_id,
                    urgency: Urgency::Routine,
                };
                tx.put_mail(&mail, Utc::now())?;
            }
            Ok::<_, fadewatch::store::StoreError>(())
        })
        .unwrap();
    store.close();
}

/// How many of them have been sent, and within what time.
pub fn sent(data: &Path, name: &str) -> Sent {
    read(data)
        .query_row(
            "SELECT count(*), ifnull(max(ended_at_utc_ms) - min(ended_at_utc_ms), 0)
             FROM outbox JOIN outbox_mail ON outbox = id
             WHERE status = 'sent' AND message_id GLOB ?1",
            [format!("<{name}.*")],
            |row| {
                let (count, ms): (i64, i64) = (row.get(0)?, row.get(1)?);
                Ok(Sent { count: usize::try_from(count).unwrap(), seconds: ms as f64 / 1000.0 })
            },
        )
        .unwrap()
}
