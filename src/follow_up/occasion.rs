//! The one door in: everything that can happen to a follow-up from outside.
//!
//! Never here: how mail or a command became an occasion.
//! Promises: the enum is closed; every occasion is plain data.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::calendar::Instant;
use super::event::PauseReason;
use super::ids::{AlertId, LookId, SittingNumber, StepNumber};
use crate::care::{AskedHours, ClinicianId, ContactId, FittingVersion, PlanVersion, Verdict};

/// Something that happens to a follow-up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Occasion {
    /// Time has come: whatever is due at or before now happens.
    Clock,
    /// A contact's reply, already read.
    Reply {
        /// Who wrote it.
        by: ContactId,
        /// What it means.
        verdict: Verdict,
        /// What it answers.
        aim: Aim,
    },
    /// A clinician's answer or command, already read.
    Decision {
        /// Who decided.
        by: ClinicianId,
        /// What it means.
        verdict: Verdict,
        /// The mail that it answers; none where the present standing is decided on, as at the
        /// command line and in a rehearsal.
        answers: Option<Answered>,
    },
    /// Mail to a contact has failed for good (R27).
    Unreachable {
        /// The contact whose mail fails.
        contact: ContactId,
    },
    /// A fitting was put on file.
    Fitted {
        /// Its version.
        version: FittingVersion,
        /// The day of the fitting.
        date: NaiveDate,
        /// Who begins on it although it is not ready.
        in_spite_of: Option<ClinicianId>,
    },
    /// The clinic has changed who is asked, and in which order.
    Contacts {
        /// The new calling order; at least one.
        contacts: Vec<ContactId>,
        /// Those among them whose address is new: they can be reached again.
        readdressed: Vec<ContactId>,
    },
    /// The clinic says in which hours a contact is asked.
    Hours {
        /// The contact.
        contact: ContactId,
        /// The hours.
        hours: AskedHours,
    },
    /// Another version of the plan is adopted. The basis of this decision is that version; it has
    /// the client's risk level.
    Adopt {
        /// The clinician who adopts it.
        by: ClinicianId,
        /// The version.
        plan: PlanVersion,
    },
    /// The follow-up pauses. Nothing comes of it where `State::against_pause` has a reason.
    Pause {
        /// Who of the staff said so.
        by: ClinicianId,
        /// Why.
        why: PauseReason,
    },
    /// A pause is over.
    Unpause {
        /// The clinician who says so.
        by: ClinicianId,
        /// The step to go on at; none goes on where the client was.
        step: Option<StepNumber>,
    },
    /// The service was away and is back (R26): what was missed is asked once.
    Awoke {
        /// When it was last seen alive.
        away_since: Instant,
    },
    /// The machine's clock was set back. The occasion comes at what the clock shows now.
    ClockSetBack {
        /// What it would show now, had it not been set.
        instead_of: Instant,
        /// How it was noticed.
        noticed: Noticed,
    },
}

/// The mail that a clinician's answer is given to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answered {
    /// An alert.
    Alert(AlertId),
    /// Another notice.
    Notice {
        /// The newest alert that had been sent to its reader by then.
        told_of: Option<AlertId>,
    },
}

/// How it was noticed that the clock was set back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Noticed {
    /// By a steady clock beside it, so that the step is known.
    AtOnce,
    /// At the start of the service, by what was written before: nobody knows how much longer the
    /// service was away.
    AtStart,
}

/// What a reply answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// The request whose token the reply carries.
    Request(Target),
    /// The newest request of a kind.
    Kind(TargetKind),
    /// Nothing that this person was asked: no token, or somebody else's.
    Nothing,
    /// Whatever fits best: the newest open request that the reading fits, and so on.
    Newest,
}

/// A request, by what it asks about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Target {
    /// The announcement of a sitting.
    Announcement(SittingNumber),
    /// A look.
    Look(LookId),
}

/// The kinds of request that a reply may name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TargetKind {
    /// An announcement of a sitting.
    Start,
    /// A first look.
    First,
    /// A recheck.
    Recheck,
    /// A routine look.
    Routine,
    /// An alert or another notice to a clinician.
    Alert,
}
