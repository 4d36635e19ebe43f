//! Single facts that the service remembers about itself from one run to the next.
//!
//! Never here: anything about a client.
//! Promises: a fact reads as it was last written.

use super::database::{OptionalExtension, params};
use super::error::{Doing, StoreError};
use super::ids::{from_ms, to_ms};
use super::view::{Tx, View};
use crate::care::rota::Rota;
use crate::follow_up::Instant;

/// An instant that the service remembers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RememberedInstant {
    /// When the service ran for the first time on this data.
    FirstRun,
    /// When the service was last known to be alive (R26).
    LastAlive,
    /// When a starting service last tried whether it can write.
    LastWritten,
    /// Up to when the daily message has been sent.
    DailyMessage,
    /// When the last backup was made.
    LastBackup,
    /// When the service last took notice of who is on cover.
    Cover,
    /// What our clock shows at the latest when the one that dates incoming mail shows the Unix epoch.
    MailClock,
}

impl RememberedInstant {
    fn key(self) -> &'static str {
        match self {
            Self::FirstRun => "first-run-utc-ms",
            Self::LastAlive => "last-alive-utc-ms",
            Self::LastWritten => "last-written-utc-ms",
            Self::DailyMessage => "daily-message-utc-ms",
            Self::LastBackup => "last-backup-utc-ms",
            Self::Cover => "cover-utc-ms",
            Self::MailClock => "mail-clock-utc-ms",
        }
    }
}

/// The key of the rota.
const ROTA: &str = "rota";

impl Tx<'_> {
    /// Keeps who is on cover on which days. The occasions of kind `cover` are the record of it.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn keep_rota(&mut self, rota: &Rota) -> Result<(), StoreError> {
        let text = serde_json::to_string(rota).expect("OK because a rota always prints as JSON");
        self.connection
            .prepare_cached(
                "INSERT INTO meta (key, value) VALUES (?1, ?2)
                 ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            )
            .and_then(|mut put| put.execute(params![ROTA, text]))
            .map(|_| ())
            .doing("keeping the cover")
    }

    /// Remembers an instant.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn remember(&mut self, what: RememberedInstant, at: Instant) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO meta (key, value) VALUES (?1, ?2)
                 ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            )
            .and_then(|mut put| put.execute(params![what.key(), to_ms(at).to_string()]))
            .map(|_| ())
            .doing("remembering an instant")
    }
}

impl View<'_> {
    /// Who is on cover on which days.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn rota(&self) -> Result<Rota, StoreError> {
        let kept: Option<String> = self
            .connection
            .prepare_cached("SELECT value FROM meta WHERE key = ?1")
            .and_then(|mut select| select.query_one([ROTA], |row| row.get(0)).optional())
            .doing("reading the cover")?;
        kept.map_or_else(
            || Ok(Rota::default()),
            |text| {
                serde_json::from_str(&text).map_err(|source| StoreError::Unreadable {
                    what: "the cover",
                    id: ROTA.to_owned(),
                    source: Some(source),
                })
            },
        )
    }

    /// The instant that was remembered last.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn remembered(&self, what: RememberedInstant) -> Result<Option<Instant>, StoreError> {
        let kept: Option<String> = self
            .connection
            .prepare_cached("SELECT value FROM meta WHERE key = ?1")
            .and_then(|mut select| select.query_one([what.key()], |row| row.get(0)).optional())
            .doing("reading a remembered instant")?;
        kept.map(|text| {
            text.parse()
                .map_err(|_| StoreError::unreadable("the remembered instant", what.key()))
                .and_then(from_ms)
        })
        .transpose()
    }
}
