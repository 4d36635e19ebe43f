//! Settings files as people meet them: the shipped ones, and the whole message for each kind of
//! mistake.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

#[path = "../python/mod.rs"]
mod python;

mod bad_clients;
mod bad_clinics;
mod bad_plans;
mod bad_scenarios;
mod doubtful_plans;
mod doubtful_scenarios;
mod hostile;
mod random;
mod schemas;
mod service_tables;
mod shipped;
mod versions;

use std::path::PathBuf;

use fadewatch::config::{Checked, Clinic, Problems, parse_clinic};
use proptest::test_runner::Config as ProptestConfig;

/// A small right plan.
pub const PLAN: &str = include_str!("right/plan.toml");
/// A small right scenario that names the plan `plan.toml`.
pub const SCENARIO: &str = include_str!("right/scenario.toml");
/// A small right clinic file.
pub const CLINIC: &str = include_str!("right/clinic.toml");
/// A small right client file for that clinic and plan.
pub const CLIENT: &str = include_str!("right/client.toml");

/// The shipped settings.
pub fn shipped(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("config").join(path)
}

/// The right clinic, read.
pub fn clinic() -> Clinic {
    parse_clinic("clinic.toml", CLINIC).unwrap().value
}

/// A right text with one part of it changed; the part must be there.
pub fn changed(text: &str, part: &str, to: &str) -> String {
    assert!(text.contains(part), "the text to change is not there: {part}");
    text.replacen(part, to, 1)
}

/// Everything that was said about a file, whether it was refused or not.
pub fn said<T>(outcome: Result<Checked<T>, Problems>) -> String {
    match outcome {
        Ok(checked) => format!("taken\n\n{}", checked.warnings),
        Err(problems) => format!("refused\n\n{problems}"),
    }
}

/// So many random cases, or as many as `PROPTEST_CASES` asks for; nothing is written to disk.
pub fn cases(few: u32) -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok());
    ProptestConfig {
        cases: asked.unwrap_or(few),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}
