//! Labelled replies, read from the fixtures.
//!
//! Never here: what is asserted of them.
//! Promises: a fixture that is not well-formed fails the test that uses it.

use std::path::PathBuf;

use fadewatch::care::{Reading, StepChoice, Verdict};
use fadewatch::reply::Answering;
use serde::Deserialize;

/// One labelled reply.
#[derive(Clone, Debug, Deserialize)]
pub struct Labelled {
    pub id: String,
    pub answering: String,
    pub text: String,
    pub reading: String,
    /// Absent where only the reading is labelled.
    pub sites: Option<Vec<String>>,
    #[serde(default)]
    pub minutes: Option<u32>,
    #[serde(default)]
    pub at: Option<String>,
    #[serde(default)]
    pub step: Option<serde_json::Value>,
    #[serde(default)]
    pub lang: Option<String>,
}

impl Labelled {
    pub fn answering(&self) -> Answering {
        self.answering.parse().expect("a kind of message")
    }

    pub fn reading(&self) -> Reading {
        self.reading.parse().expect("a reading")
    }

    /// The sites named, as text in one order.
    pub fn sites_named(&self) -> Vec<String> {
        let mut sites = self.sites.clone().unwrap_or_default();
        sites.sort();
        sites
    }

    /// Whether the verdict is as labelled. At a recheck 'no marks' means that the mark has gone.
    pub fn is_read_right(&self, verdict: &Verdict) -> bool {
        let gone = |reading| matches!(reading, Reading::Clear | Reading::Faded);
        let both_gone = gone(verdict.reading) && gone(self.reading());
        verdict.reading == self.reading() || self.answering() == Answering::Recheck && both_gone
    }
}

/// The folder of the fixtures.
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reply")
}

/// The labelled replies of a fixture.
pub fn labelled(file: &str) -> Vec<Labelled> {
    let text = std::fs::read_to_string(folder().join(file)).expect("a fixture");
    text.lines().map(|line| serde_json::from_str(line).expect("a labelled reply")).collect()
}

/// The sites of a verdict as text in one order.
pub fn sites_of(verdict: &Verdict) -> Vec<String> {
    let mut sites: Vec<String> = verdict.sites.iter().map(ToString::to_string).collect();
    sites.sort();
    sites
}

/// The step of a verdict as the fixtures write it.
pub fn step_of(verdict: &Verdict) -> Option<serde_json::Value> {
    verdict.step.map(|step| match step {
        StepChoice::Step(number) => serde_json::json!({ "step": number }),
        StepChoice::Minutes(minutes) => serde_json::json!({ "minutes": minutes.count() }),
    })
}

/// The clock time of a verdict as the fixtures write it.
pub fn at_of(verdict: &Verdict) -> Option<String> {
    verdict.stated_at.map(|time| time.format("%H:%M").to_string())
}

/// Readings that let things go on although a mark may be there.
pub fn is_calm(reading: Reading) -> bool {
    matches!(
        reading,
        Reading::Clear
            | Reading::Faded
            | Reading::Started
            | Reading::NoSitting
            | Reading::NotLooked
    )
}

/// Readings of a mark that is there.
pub fn is_worrying(reading: Reading) -> bool {
    matches!(reading, Reading::Marked | Reading::Persisting | Reading::Alarming)
}
