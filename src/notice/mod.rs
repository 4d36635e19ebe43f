//! What people read: from typed values to mails in the reader's language, short enough for a phone.
//!
//! `for_event(entry, state, plan, setting, backdrop) → [(recipient, draft)]` says who gets what;
//! `Draft::addressed(reply address) → notice` finishes one: subject, plain text, HTML, one-tap
//! answers. All words are data: `config/languages/<code>/wording.toml`.
//!
//! Never here: rules, clocks, sending, files, tokens.
//! Promises: the same values give the same bytes; wording works for every skin; names and words of
//! people cannot break out of where they stand.

mod agenda;
mod alert;
mod ask;
mod calendar;
mod catalogue;
pub mod colours;
mod confirmation;
mod decided;
mod desk;
mod dispatch;
mod draft;
mod facts;
mod html;
mod languages;
mod letter;
mod letter_decisions;
mod letter_findings;
mod letter_html;
mod letter_text;
mod mailto;
mod page;
mod phrase;
pub mod picture;
mod plain;
mod round;
mod setting;
mod sitting;
mod sittings_table;
mod standing;
mod stop;
mod stop_cause;
mod template;
mod told;
mod trouble;
mod wording;

pub use agenda::Agenda;
pub use calendar::{CalendarFile, Planned};
pub use desk::{DayCalendar, Desk, DueMeanwhile, Standings, UnreadMail, UnreadReason};
pub use dispatch::{for_event, for_reply};
pub use draft::{Draft, Notice, Recipient, Tap, Urgency};
pub use languages::{Languages, WORDING_FILE};
pub use letter::{Letter, LetterOf, letter};
pub use round::{RoundKind, RoundPart, round};
pub use setting::{Backdrop, Client, Clinic, Person, Picture, Said, Setting};
pub use stop_cause::stop_cause;
pub use trouble::{MailTrouble, MailWay, ServiceTrouble, Waiting, trouble_in_words};
pub use wording::{Wording, WordingError};
