//! How the data is kept: backups on a schedule, and how long personal data stays.
//!
//! Never here: making backups, erasing anything.
//! Promises: nothing is erased unless the clinic has said after how long.

use std::path::PathBuf;

use chrono::NaiveTime;

use super::shape::{Key, Kind, Shape};
use super::table::Table;

/// All of `[backup]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backups {
    /// Where the copies go. Another disk or machine than the data's, if they are to be of use.
    pub folder: PathBuf,
    /// When a copy is made each day, by the clinic's clock.
    pub at: NaiveTime,
    /// How many copies are kept; the oldest go first, and only after a newer one proved usable.
    pub copies: u32,
}

/// All of `[keep]`: after how many days personal data goes. None: it stays.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Retention {
    /// For mails, sent and received, that are done with.
    pub mail_days: Option<u32>,
    /// For the names and addresses of a follow-up, counted from its closing.
    pub people_days: Option<u32>,
}

/// Copies kept where none is named: two weeks (common practice, no source).
const COPIES: u32 = 14;

/// Reads `[backup]`.
pub(super) fn backups(table: &Table<'_>) -> Option<Backups> {
    let folder = table.path_at("folder");
    let at = if table.has("at") {
        table.time("at").map(|at| at.value)
    } else {
        // Half past three: outside of working hours (common practice, no source).
        NaiveTime::from_hms_opt(3, 30, 0)
    };
    let copies = if table.has("copies") {
        table.count("copies").map(|copies| copies.value)
    } else {
        Some(COPIES)
    };
    Some(Backups { folder: folder?, at: at?, copies: copies? })
}

/// Reads `[keep]`.
pub(super) fn retention(table: &Table<'_>) -> Option<Retention> {
    let days = |name: &str| {
        if table.has(name) { table.count(name).map(|days| Some(days.value)) } else { Some(None) }
    };
    let (mail_days, people_days) = (days("mail_days"), days("people_days"));
    Some(Retention { mail_days: mail_days?, people_days: people_days? })
}

/// `[backup]`.
pub(super) static BACKUP: Shape = Shape {
    name: "[backup]",
    keys: &[
        Key::required("folder", Kind::Path, "\"/backups/fadewatch\"", "where the copies go"),
        Key::optional("at", Kind::Time, "\"03:30\"", "when, each day, by the clinic's clock"),
        Key::optional("copies", Kind::Count(2, 3650), "14", "how many copies are kept"),
    ],
};

/// `[keep]`. A week at least for mail: a clinic must be able to look up what was written lately.
pub(super) static KEEP: Shape = Shape {
    name: "[keep]",
    keys: &[
        Key::optional(
            "mail_days",
            Kind::Count(7, 36500),
            "90",
            "after how many days mails that are done with are erased",
        ),
        Key::optional(
            "people_days",
            Kind::Count(1, 36500),
            "365",
            "how many days after its closing a follow-up's names and addresses are erased",
        ),
    ],
};
