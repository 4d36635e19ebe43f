//! The same core under a virtual clock: a scenario run on paper.
//!
//! Never here: mail, the board, the real clock.
//! Promises: same scenario, same bytes; nothing is sent and nothing is stored.

pub mod demo;
mod lines;
mod paper_post;
pub(crate) mod phrases;
mod remark;
mod run;
mod sheet;
pub mod simulation;
mod timetable;
mod words;
mod wrap;

pub use lines::{json_line, json_lines};
pub use run::{AskedAbout, Rehearsal, Turn, rehearse, rehearse_watched};
pub use sheet::{ShowMail, timetable};
pub use words::reader;
