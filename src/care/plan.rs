//! The tolerance-progression plan as the core uses it: checked, complete, without defaults.
//!
//! Never here: TOML, files, the client's own times.
//! Promises: every ladder has at least one step; every duration that paces a wait is above zero.

use std::collections::BTreeMap;
use std::fmt;

use chrono::{NaiveDate, NaiveTime};
use serde::{Deserialize, Serialize};

use super::{Minutes, RiskLevel};

/// The content hash of a plan (SHA-256 over its canonical form, lower-case hexadecimal).
/// A follow-up is pinned to one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PlanVersion(String);

impl PlanVersion {
    /// Wraps a hash that was computed by the room that reads plans, or stored earlier.
    pub fn from_hash(hash: String) -> Self {
        Self(hash)
    }

    /// The whole hash.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The first twelve characters, for people.
    pub fn short(&self) -> &str {
        self.0.get(..12).unwrap_or(&self.0)
    }
}

impl fmt::Display for PlanVersion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.short())
    }
}

/// A tolerance-progression plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Plan {
    /// The clinic's id for the plan.
    pub id: String,
    /// One line for people.
    pub title: String,
    /// Who in the clinic approved it, and when. Without it the plan is rehearsed, never served.
    pub approval: Option<Approval>,
    /// The limits that every step shares.
    pub looks: Limits,
    /// R13, where the plan watches for repeated marks.
    pub repeat_marks: Option<RepeatMarks>,
    /// What follows a stop.
    pub stop: StopTerms,
    /// A ladder for each risk level.
    pub risk: BTreeMap<RiskLevel, Ladder>,
}

/// Who approved a plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Approval {
    /// The name as the clinic wrote it; never empty.
    pub by: String,
    /// The day of approval.
    pub on: NaiveDate,
}

/// The `[looks]` table: limits that every step shares.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Limits {
    /// The longest that a mark may last once the client is off the seat (R6, R10).
    pub fade_limit: Minutes,
    /// The longest fade that still earns credit (R5).
    pub slow_fade: Minutes,
    /// How long a request waits before it is repeated (R14). Above zero.
    pub answer_within: Minutes,
    /// How often each contact is asked again (R14).
    pub ask_again: u32,
    /// An unanswered look is missed this long after its first request (R15). Above zero.
    pub tell_clinic_after: Minutes,
    /// An unanswered recheck is a stop this long after its first request (R12). Above zero.
    pub recheck_within: Minutes,
    /// So many sittings with a missed look in a row suspend sitting (R16). Above zero.
    pub missed_to_suspend: u32,
    /// No planned sitting begins this soon after a mark was reported gone (R4).
    pub rest_after_mark: Minutes,
}

/// The `watch.repeat_marks` setting (R13).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RepeatMarks {
    /// So many sittings that named the same site…
    pub count: u32,
    /// …among the last so many sittings are told.
    pub of_last: u32,
}

/// The `[stop]` table.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StopTerms {
    /// An unacknowledged alert is sent again this often (R22). Above zero.
    pub repeat_alert: Minutes,
    /// An unacknowledged alert passes to the next on cover this often (R22). Above zero.
    pub pass_on_after: Minutes,
    /// When an acknowledged alert without a decision is brought back each day (client's clock).
    pub bring_back_at: NaiveTime,
    /// How many steps below the one stopped on a plain `resume` goes (R23).
    pub step_back: u32,
}

/// The steps of one risk level, and its routine phase.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ladder {
    /// Routine looks on every day of the build-up (R3); sorted, no repeats, may be empty.
    pub look_at: Vec<NaiveTime>,
    /// The steps in order; at least one.
    pub steps: Vec<Step>,
    /// The routine phase (R8), where the level has one.
    pub routine: Option<Routine>,
}

/// One step of a ladder (R1).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Step {
    /// How long one sitting lasts. Above zero.
    pub sit: Minutes,
    /// How many sittings a day. Above zero.
    pub sittings_per_day: u32,
    /// Credits in a row that lead to the next step. Above zero.
    pub clear_to_advance: u32,
    /// Looks inside the sitting, this far apart (R3). Above zero.
    pub look_every: Option<Minutes>,
}

/// The routine phase of a level (R8).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Routine {
    /// Times of day of the routine looks; sorted, no repeats.
    pub look_at: Vec<NaiveTime>,
    /// Days after the phase began on which a review falls due; sorted, no repeats, each above zero.
    pub review_after_days: Vec<u32>,
}

impl Plan {
    /// The ladder of a level, where the plan has it.
    pub fn ladder(&self, level: &RiskLevel) -> Option<&Ladder> {
        self.risk.get(level)
    }
}

impl Step {
    /// The offsets of this step's looks from the start of a sitting, in order: each `look_every`
    /// inside it, and its end (R3).
    pub fn look_offsets(&self) -> Vec<Minutes> {
        let mut offsets = Vec::new();
        if let Some(every) = self.look_every {
            let mut offset = every.count();
            while offset < self.sit.count() {
                offsets.push(Minutes::new(offset));
                offset += every.count().max(1);
            }
        }
        offsets.push(self.sit);
        offsets
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_look_at_the_very_end_is_not_asked_twice() {
        let step = Step {
            sit: Minutes::new(120),
            sittings_per_day: 1,
            clear_to_advance: 1,
            look_every: Some(Minutes::new(60)),
        };
        assert_eq!(step.look_offsets(), [Minutes::new(60), Minutes::new(120)]);
    }
}
