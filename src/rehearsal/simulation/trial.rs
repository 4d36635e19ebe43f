//! One run: what it is given, and what came of it.
//!
//! Never here: running it.
//! Promises: a trial says all that is needed to run it again.

use std::str::FromStr;

use super::fault::{FaultCounts, Faults};
use crate::follow_up::Instant;

/// What a run is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trial {
    /// The seed that draws everything.
    pub seed: u64,
    /// Local days with trouble; some calm days follow.
    pub days: u32,
    /// Which kinds of trouble are on.
    pub faults: Faults,
    /// Where the store lies.
    pub medium: Medium,
    /// How much of the service takes part.
    pub depth: Depth,
}

/// How much of the service takes part in a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depth {
    /// All of it: store, mail, words.
    Whole,
    /// The rules alone; nothing is stored, so the medium means nothing.
    Rules,
}

/// Where the store of a run lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Medium {
    /// In memory.
    Memory,
    /// In a temporary folder.
    Disk,
}

impl Depth {
    /// Its name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Whole => "whole",
            Self::Rules => "rules",
        }
    }
}

/// A word that names no depth.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no depth is called `{0}`; use `whole` or `rules`")]
pub struct UnknownDepth(String);

impl FromStr for Depth {
    type Err = UnknownDepth;

    fn from_str(text: &str) -> Result<Self, UnknownDepth> {
        [Self::Whole, Self::Rules]
            .into_iter()
            .find(|depth| depth.name() == text)
            .ok_or_else(|| UnknownDepth(text.to_owned()))
    }
}

/// The promises of the design, by number, and that the service works at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Promise {
    /// No report of a lasting mark or an alarming sign without a committed alert.
    Alerts,
    /// No advance without the answered looks that earn it.
    Advances,
    /// No reminder in quiet hours, none twice, never more than the plan allows.
    Reminders,
    /// No accepted reply lost, none counted twice.
    Replies,
    /// A stop is lifted by a clinician only.
    Stops,
    /// Every notice and decision can be traced to its rule and facts.
    Traces,
    /// The journal rebuilds the state; tampering shows.
    Journal,
    /// The plan that a follow-up is pinned to stays.
    Pinned,
    /// Once all is calm, nothing is left owed.
    Calm,
    /// Who is asked is on shift, where anybody is.
    Shifts,
    /// The service goes on working.
    Working,
}

impl Promise {
    /// Its number in the design, and what it says.
    pub fn text(self) -> &'static str {
        match self {
            Self::Alerts => "promise 1: no worrying report without a committed alert",
            Self::Advances => "promise 2: no advance without the answered looks that earn it",
            Self::Reminders => "promise 3: reminders keep to quiet hours and to the plan",
            Self::Replies => "promise 4: no reply lost, none counted twice",
            Self::Stops => "promise 5: a stop is lifted by a clinician only",
            Self::Traces => "promise 6: every notice and decision can be traced",
            Self::Journal => "promise 7: the journal rebuilds the state",
            Self::Pinned => "the plan stays pinned",
            Self::Calm => "once all is calm, nothing is left owed",
            Self::Shifts => "who is asked is on shift, where anybody is",
            Self::Working => "the service goes on working",
        }
    }
}

/// A promise that was broken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broken {
    /// Which one.
    pub promise: Promise,
    /// How it showed.
    pub what: String,
}

impl Broken {
    /// A promise that was broken.
    pub fn new(promise: Promise, what: impl Into<String>) -> Self {
        Self { promise, what: what.into() }
    }
}

/// What came of a run.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// The first promise that was broken, and when by the world's clock.
    pub broken: Option<(Instant, Broken)>,
    /// How often each kind of trouble struck.
    pub faults: FaultCounts,
    /// Follow-ups that took part.
    pub follow_ups: u64,
    /// Follow-up-days, the calm ones included.
    pub follow_up_days: u64,
    /// Mails that were handed to mail servers.
    pub mails: u64,
    /// Replies that were worked through.
    pub replies: u64,
    /// Alerts that were raised.
    pub alerts: u64,
    /// Advances to a next step or to the routine phase.
    pub advances: u64,
    /// What happened, in order, where it was to be told.
    pub story: Vec<String>,
}
