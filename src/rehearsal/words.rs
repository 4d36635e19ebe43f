//! The words of a scenario, read as the service reads those of a mail.
//!
//! Never here: quotes and signatures, which a scenario does not have.
//! Promises: the reader is the service's own.

use super::run::AskedAbout;
use crate::care::Verdict;
use crate::follow_up::TargetKind;
use crate::reply::{Answering, Lexicons, read};

/// The language that words are read in first.
const LANGUAGE: &str = "en";

/// Reads words by what they answer.
pub fn reader(lexicons: &Lexicons) -> impl Fn(&str, AskedAbout) -> Verdict + '_ {
    |words, asked| read(lexicons, LANGUAGE, answering(asked), words).verdict
}

fn answering(asked: AskedAbout) -> Answering {
    match asked {
        Some(TargetKind::Start) => Answering::Start,
        Some(TargetKind::Recheck) => Answering::Recheck,
        Some(TargetKind::Alert) => Answering::Alert,
        Some(TargetKind::First | TargetKind::Routine) | None => Answering::Look,
    }
}
