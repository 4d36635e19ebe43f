//! Who hears that the service lives, and who hears that it does not.
//!
//! Never here: telling anybody.
//! Promises: without a `[watch]` table the clinic still gets its daily message.

use chrono::NaiveTime;

use super::login::command_line;
use super::mail::{MAIL_OUT, MailOut, mail_out};
use super::person::MailAddress;
use super::shape::{Key, Kind, Shape};
use super::table::Table;

/// All of `[watch]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Watch {
    /// When the daily message goes to the first on cover, by the clinic's clock; none: it does not.
    pub daily_at: Option<NaiveTime>,
    /// A second address, told of every trouble and when a day's message did not leave.
    pub second: Option<MailAddress>,
    /// A way out for mail to the second address that does not hang on the clinic's own server.
    pub out: Option<MailOut>,
    /// A program that is given the news of every trouble on its standard input, with its arguments.
    pub command: Option<Vec<String>>,
}

impl Watch {
    /// What holds without a `[watch]` table: a daily message, and nobody else to tell. Eight o'clock
    /// is common practice, no source: the working day begins, and an absence is noticed within it.
    pub fn common() -> Self {
        Self { daily_at: NaiveTime::from_hms_opt(8, 0, 0), second: None, out: None, command: None }
    }
}

/// Reads `[watch]`.
pub(super) fn watch(table: &Table<'_>) -> Option<Watch> {
    let is_wanted = if table.has("daily_message") {
        table.yes_no("daily_message").map(|wanted| wanted.value)
    } else {
        Some(true)
    };
    let daily_at = if table.has("daily_at") {
        table.time("daily_at").map(|time| Some(time.value))
    } else {
        Some(Watch::common().daily_at)
    };
    let second = if table.has("second") {
        table.mail("second").map(|mail| Some(mail.value))
    } else {
        Some(None)
    };
    let out = match table.table("out") {
        Some(out) => mail_out(&out).map(Some),
        None if table.has("out") => None,
        None => Some(None),
    };
    let command =
        if table.has("command") { command_line(table, "command").map(Some) } else { Some(None) };
    if table.has("out") && !table.has("second") {
        table
            .report
            .error(table.key_span("out"), "a second way out without a `second` address".to_owned())
            .label("to whom?")
            .help("add `second = \"…\"`, or take this table out");
        return None;
    }
    let daily_at = is_wanted?.then_some(daily_at?).flatten();
    Some(Watch { daily_at, second: second?, out: out?, command: command? })
}

/// `[watch]`.
pub(super) static WATCH: Shape = Shape {
    name: "[watch]",
    keys: &[
        Key::optional(
            "daily_message",
            Kind::YesNo,
            "true",
            "whether the first on cover is told daily that the service lives",
        ),
        Key::optional("daily_at", Kind::Time, "\"08:00\"", "when, by the clinic's clock"),
        Key::optional(
            "second",
            Kind::Mail,
            "\"technician@clinic.example\"",
            "who else is told of trouble, and when a day's message did not leave",
        ),
        Key::optional(
            "out",
            Kind::Table(&MAIL_OUT),
            "[watch.out]",
            "another mail server for the second address, for when the clinic's own is the trouble",
        ),
        Key::optional(
            "command",
            Kind::Texts,
            "[\"/usr/local/bin/page-somebody\"]",
            "a program that is given the news of trouble on its standard input",
        ),
    ],
};
