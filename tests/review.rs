//! The fitting and the review: whether a fit may begin, what to examine after a finding, and what
//! of both reaches an alert.
//!
//! Never here: how an alert looks; the rules of a follow-up beyond the stop.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

#[path = "review/alarming_signs.rs"]
mod alarming_signs;
#[path = "review/bad_fittings.rs"]
mod bad_fittings;
#[path = "review/bad_guides.rs"]
mod bad_guides;
#[path = "review/guide.rs"]
mod guide;
#[path = "review/page.rs"]
mod page;
#[path = "print/mod.rs"]
mod print;
#[path = "review/readiness.rs"]
mod readiness;
#[path = "review/whole_path.rs"]
mod whole_path;

use chrono::NaiveDate;
use fadewatch::care::Fitting;
use fadewatch::config::{Checked, FittingFile, Problems, parse_fitting};

/// A fitting that is ready at every risk level, with everything in it that can be.
pub const FITTING: &str = include_str!("review/right/fitting.toml");

/// The day on which all tests read files.
pub fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 6).unwrap()
}

/// Reads a fitting with some parts of the right one changed; each part must be there.
pub fn read(changes: &[(&str, &str)]) -> Result<Checked<FittingFile>, Problems> {
    let mut text = FITTING.to_owned();
    for (part, to) in changes {
        assert!(text.contains(part), "the text to change is not there: {part}");
        text = text.replacen(part, to, 1);
    }
    parse_fitting("fitting.toml", &text, None, today())
}

/// The fitting that `read` gives.
pub fn fitting(changes: &[(&str, &str)]) -> Fitting {
    read(changes).unwrap_or_else(|problems| panic!("{problems}")).value.fitting
}

/// Everything that was said about a file, whether it was refused or not.
pub fn said<T>(outcome: Result<Checked<T>, Problems>) -> String {
    match outcome {
        Ok(checked) => format!("taken\n\n{}", checked.warnings),
        Err(problems) => format!("refused\n\n{problems}"),
    }
}
