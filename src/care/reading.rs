//! What a reply is taken to mean: the readings, and a verdict with what the reply states beside it.
//!
//! Never here: how words become a reading (`reply`), what a reading leads to (`follow_up`).
//! Promises: the names are those of the reply fixtures; a verdict says why it was reached.

use std::fmt;
use std::str::FromStr;

use chrono::NaiveTime;
use serde::{Deserialize, Serialize};

use super::{Minutes, Site};

/// What a reply means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reading {
    /// The skin was looked at and nothing was seen.
    Clear,
    /// Redness or another colour change is there, the skin is whole.
    Marked,
    /// A mark that was there has gone.
    Faded,
    /// A mark is still there, has come back, has grown or has lasted on.
    Persisting,
    /// A sign that needs review at once, whatever was asked.
    Alarming,
    /// No look has been made, or none could be made.
    NotLooked,
    /// The sitting did not take place.
    NoSitting,
    /// The sitting has begun.
    Started,
    /// A person wrote it, but it cannot be read safely.
    Unclear,
    /// No person wrote it.
    Automatic,
    /// A clinician has taken the alert up.
    Seen,
    /// A clinician lets sitting begin again.
    Resume,
    /// A clinician keeps sitting stopped.
    KeepStopped,
    /// A clinician ends the follow-up.
    Close,
}

impl Reading {
    /// All readings.
    pub const ALL: [Self; 14] = [
        Self::Clear,
        Self::Marked,
        Self::Faded,
        Self::Persisting,
        Self::Alarming,
        Self::NotLooked,
        Self::NoSitting,
        Self::Started,
        Self::Unclear,
        Self::Automatic,
        Self::Seen,
        Self::Resume,
        Self::KeepStopped,
        Self::Close,
    ];

    /// The name used in fixtures, scenarios and the journal.
    pub fn name(self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::Marked => "marked",
            Self::Faded => "faded",
            Self::Persisting => "persisting",
            Self::Alarming => "alarming",
            Self::NotLooked => "not-looked",
            Self::NoSitting => "no-sitting",
            Self::Started => "started",
            Self::Unclear => "unclear",
            Self::Automatic => "automatic",
            Self::Seen => "seen",
            Self::Resume => "resume",
            Self::KeepStopped => "keep-stopped",
            Self::Close => "close",
        }
    }

    /// Whether only a clinician can mean it.
    pub fn is_clinicians(self) -> bool {
        matches!(self, Self::Seen | Self::Resume | Self::KeepStopped | Self::Close)
    }

    /// Whether it reports a mark or worse.
    pub fn is_worrying(self) -> bool {
        self.finding() >= Some(Finding::Marked)
    }

    /// The finding, where the reading is one.
    pub fn finding(self) -> Option<Finding> {
        match self {
            Self::Clear => Some(Finding::Clear),
            Self::Faded => Some(Finding::Faded),
            Self::Marked => Some(Finding::Marked),
            Self::Persisting => Some(Finding::Persisting),
            Self::Alarming => Some(Finding::Alarming),
            Self::NotLooked
            | Self::NoSitting
            | Self::Started
            | Self::Unclear
            | Self::Automatic
            | Self::Seen
            | Self::Resume
            | Self::KeepStopped
            | Self::Close => None,
        }
    }
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A text that is not the name of a reading.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("unknown reading `{0}`")]
pub struct UnknownReading(pub String);

impl FromStr for Reading {
    type Err = UnknownReading;

    fn from_str(text: &str) -> Result<Self, UnknownReading> {
        Self::ALL
            .into_iter()
            .find(|reading| reading.name() == text)
            .ok_or_else(|| UnknownReading(text.to_owned()))
    }
}

/// A reading that says what was seen on the skin, from best to worst (the order of R18).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finding {
    /// Nothing seen.
    Clear,
    /// A mark came and went.
    Faded,
    /// A mark is there.
    Marked,
    /// A mark has lasted.
    Persisting,
    /// A sign that needs review at once.
    Alarming,
}

impl Finding {
    /// The reading that says this finding.
    pub fn reading(self) -> Reading {
        match self {
            Self::Clear => Reading::Clear,
            Self::Faded => Reading::Faded,
            Self::Marked => Reading::Marked,
            Self::Persisting => Reading::Persisting,
            Self::Alarming => Reading::Alarming,
        }
    }
}

/// Where a clinician's `resume` sends the client: a step by number, or one by its sitting time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StepChoice {
    /// The step with this number, counted from 1.
    Step(u32),
    /// The step whose `sit` is this long.
    Minutes(Minutes),
}

/// A reading together with what the reply states.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verdict {
    /// What the reply means.
    pub reading: Reading,
    /// Sites named with a finding; no repeats; empty where none is named.
    pub sites: Vec<Site>,
    /// Minutes until the mark was gone, or for which it has lasted.
    pub minutes: Option<Minutes>,
    /// Clock time of the look or of the start, as the reply states it.
    pub stated_at: Option<NaiveTime>,
    /// The step that a clinician's `resume` names.
    pub step: Option<StepChoice>,
}

impl Verdict {
    /// A verdict that states nothing beside its reading.
    pub fn bare(reading: Reading) -> Self {
        Self { reading, sites: Vec::new(), minutes: None, stated_at: None, step: None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reading_is_known_by_its_name() {
        for reading in Reading::ALL {
            assert_eq!(reading.name().parse(), Ok(reading));
            assert_eq!(
                serde_json::to_string(&reading).expect("OK because a unit variant always prints"),
                format!("\"{}\"", reading.name())
            );
        }
    }

    #[test]
    fn findings_are_ordered_from_calm_to_alarming() {
        assert!(Finding::Clear < Finding::Faded && Finding::Faded < Finding::Marked);
        assert!(Finding::Marked < Finding::Persisting && Finding::Persisting < Finding::Alarming);
    }
}
