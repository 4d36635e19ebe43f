//! The state of a follow-up: what the journal adds up to.
//!
//! Never here: how entries change it (`apply`), what follows from it (`decide`).
//! Promises: built from entries alone; every look and sitting that ever was stays known, because
//! late answers and corrections may still name it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::calendar::{Cursor, Instant};
use super::event::{AlertCause, Found, LookKind, NoCreditReason, PauseReason, WithdrawReason};
use super::ids::{AlertId, LookId, SittingNumber, StepNumber};
use super::past::Past;
use super::terms::Terms;
use crate::care::{AskedHours, ClinicianId, ContactId, Finding, FittingVersion, Minutes, Site};

/// Everything that is known of one follow-up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct State {
    /// The client's terms; contacts as they stand now.
    pub terms: Terms,
    /// The fitting that is tested; none where none is on file.
    pub fitting: Option<FittingVersion>,
    /// Contacts whose mail fails for good (R27).
    pub unreachable: BTreeSet<ContactId>,
    /// The hours of contacts who are not asked at any hour; kept also of those who are asked no
    /// longer, who may be chosen again.
    pub hours: BTreeMap<ContactId, AskedHours>,
    /// Where on the ladder.
    pub phase: Phase,
    /// Whether sitting goes on.
    pub standing: Standing,
    /// Credits in a row on this step.
    pub run: Run,
    /// Sittings with a missed look in a row (R16).
    pub missed_in_a_row: u32,
    /// Settled looks and sittings that lie far back; kept apart from the rest.
    #[serde(with = "super::past::apart")]
    pub(super) past: Past,
    /// The sittings that began since, in order.
    pub(super) recent_sittings: Vec<Sitting>,
    /// The looks since, in the order in which they came to be planned.
    pub(super) recent_looks: Vec<Look>,
    /// When a mark was last reported gone in time (R4).
    #[serde(with = "super::stored::maybe_instant")]
    pub gone_at: Option<Instant>,
    /// How often sitting was resumed or a suspension lifted (R18).
    pub resumes: u32,
    /// The alert that is open, or acknowledged but not decided.
    pub alert: Option<Alert>,
    /// How many alerts there have been.
    pub alerts: u32,
    /// How many there had been when sitting was last stopped: alerts up to that number are about
    /// something earlier.
    pub alerts_before_stop: u32,
    /// How many requests and announcements have gone out; orders them.
    pub requests: u32,
    /// Planned sittings that have been worked through.
    pub sitting_cursor: Cursor,
    /// Routine looks that have been worked through.
    pub routine_cursor: Cursor,
    /// The last local midnight at which an advance was decided or put off (R7).
    pub midnight_decided: Option<NaiveDate>,
}

/// Where on the ladder a follow-up is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// Sitting time is being built up.
    BuildUp {
        /// The step.
        step: StepNumber,
    },
    /// Only routine looks and reviews (R8).
    Routine {
        /// The first local day of the phase.
        began: NaiveDate,
        /// Reviews that have fallen due, by their day.
        reviewed: BTreeSet<u32>,
    },
}

/// Whether sitting goes on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Sitting goes on.
    Open,
    /// Suspended after missed looks (R16).
    Suspended,
    /// Stopped until a clinician lifts it (R21).
    Stopped {
        /// The step stopped on; the routine phase counts as the last step.
        step: StepNumber,
        /// Since when.
        #[serde(with = "super::stored::instant")]
        since: Instant,
    },
    /// Paused: nothing is asked but about marks that are reported.
    Paused {
        /// Since when.
        #[serde(with = "super::stored::instant")]
        since: Instant,
        /// Why.
        why: PauseReason,
    },
    /// Ended (R23).
    Closed,
}

/// Credits in a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Run {
    /// How many.
    pub credits: u32,
    /// Counts the runs, so that a credit of a run since broken is known (R18).
    pub generation: u32,
    /// When the last credit came.
    #[serde(with = "super::stored::maybe_instant")]
    pub last_credit_at: Option<Instant>,
}

/// A request that went to a person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Request {
    /// To whom.
    pub to: ContactId,
    /// When.
    #[serde(with = "super::stored::instant")]
    pub at: Instant,
    /// Its place among all requests of the follow-up.
    pub order: u32,
}

/// A sitting that began.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sitting {
    /// Its number.
    pub number: SittingNumber,
    /// The step that it belongs to.
    pub step: StepNumber,
    /// How long it is to last.
    pub sit: Minutes,
    /// When it started.
    #[serde(with = "super::stored::instant")]
    pub start: Instant,
    /// The announcement.
    pub announcement: Request,
    /// Whether the announcement still waits: until the first look is asked.
    pub announced: bool,
    /// Its looks and their rechecks.
    pub looks: Vec<LookId>,
    /// How it went.
    pub course: Course,
    /// Whether sitting was stopped while it was unsettled, or by a finding of it: then it is never
    /// settled (R19, R21).
    pub stopped: bool,
    /// Cut short by a mark, or a look was withdrawn unanswered by one.
    pub cut_short: bool,
    /// What it came to, once settled; kept while it is settled anew.
    pub outcome: Option<Outcome>,
    /// Whether every look of it is settled and it has been counted.
    pub settled: bool,
    /// Whether it has been counted in the row of R16; counted once, however often it is settled.
    pub counted: bool,
    /// The run that a credit of it counts for, once it was settled (R18).
    pub counts_in: Option<u32>,
    /// Sites named with a mark (R13); a site without a side stands as both.
    pub named: BTreeSet<Site>,
    /// Whether its repeated marks have been told (R13).
    pub repeat_told: bool,
    /// Its point for the projection: the fade time (R19).
    pub point: Option<Minutes>,
}

/// How a sitting went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Course {
    /// It runs, or ran to its end.
    Ran,
    /// It did not take place (R17).
    Cancelled,
    /// A mark ended it (R10).
    EndedByMark,
    /// Sitting was stopped while it was unsettled or by a finding of it (R21).
    Stopped,
}

/// What a sitting came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Credit, in the run with this generation.
    Credit {
        /// The run's generation.
        generation: u32,
    },
    /// None.
    NoCredit {
        /// Why.
        why: NoCreditReason,
    },
}

/// A look: one request to inspect the skin, with all its repeats, and its answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Look {
    /// Its number.
    pub id: LookId,
    /// Its kind.
    pub kind: LookKind,
    /// The sitting that it belongs to; none for routine looks and their rechecks.
    pub sitting: Option<SittingNumber>,
    /// For a recheck, the look that saw the mark.
    pub of: Option<LookId>,
    /// The recheck of the mark seen at this look.
    pub recheck: Option<LookId>,
    /// When it is to be asked first.
    #[serde(with = "super::stored::instant")]
    pub due: Instant,
    /// Where it stands.
    pub status: LookStatus,
    /// When it was settled: answered, missed or withdrawn.
    #[serde(with = "super::stored::maybe_instant")]
    pub settled_at: Option<Instant>,
    /// Its requests, in order.
    pub requests: Vec<Request>,
    /// The clock of its requests, once asked.
    pub clock: Option<LookClock>,
    /// How often words about it could not be read.
    pub unclear: u32,
    /// The finding that stands.
    pub found: Option<Found>,
    /// How often sitting had been resumed when it came (R18).
    pub found_in: u32,
    /// The sites last named with a mark or worse at this look (R21).
    pub mark_sites: Vec<Site>,
    /// Whether nobody was asked for it (R29).
    pub unasked: bool,
}

/// Where a look stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LookStatus {
    /// Not asked yet.
    Planned,
    /// Asked, no finding yet.
    Open,
    /// Answered with a finding.
    Answered,
    /// Not answered in time (R15).
    Missed,
    /// No longer wanted.
    Withdrawn {
        /// Why.
        why: WithdrawReason,
    },
}

/// The clock of a look that has been asked.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LookClock {
    /// When it was first asked.
    #[serde(with = "super::stored::instant")]
    pub first_asked: Instant,
    /// Whose turn it is.
    pub asking: ContactId,
    /// How often the present contact was asked again.
    pub repeats: u32,
    /// When the present wait runs out; none after the last.
    #[serde(with = "super::stored::maybe_instant")]
    pub wait_until: Option<Instant>,
    /// When the look is missed, or the recheck is a stop.
    #[serde(with = "super::stored::instant")]
    pub over_at: Instant,
}

/// An alert.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Alert {
    /// Its number.
    pub id: AlertId,
    /// What it is about.
    pub cause: AlertCause,
    /// When it was raised.
    #[serde(with = "super::stored::instant")]
    pub raised_at: Instant,
    /// Who has it now.
    pub holder: ClinicianId,
    /// How often it has gone to whom.
    pub sent: BTreeMap<ClinicianId, u32>,
    /// When it last went out.
    #[serde(with = "super::stored::instant")]
    pub last_sent: Instant,
    /// Who acknowledged it, and when.
    pub acknowledged: Option<(ClinicianId, Instant)>,
}

impl Sitting {
    /// A stop ends the sitting; one that did not take place stays so.
    pub(super) fn stop(&mut self) {
        self.settled = true;
        self.stopped = true;
        if self.course != Course::Cancelled {
            self.course = Course::Stopped;
        }
    }
}

impl Look {
    /// Whether the look waits to be asked or answered (R4).
    pub fn is_unsettled(&self) -> bool {
        matches!(self.status, LookStatus::Planned | LookStatus::Open)
    }

    /// The finding that stands.
    pub fn finding(&self) -> Option<Finding> {
        self.found.as_ref().map(|found| found.finding)
    }

    /// The place of its first request among all of the follow-up: the oldest look is the one that
    /// was asked first.
    pub(super) fn first_order(&self) -> Option<u32> {
        self.requests.first().map(|request| request.order)
    }

    /// How often it has gone to a person.
    pub fn times_sent_to(&self, contact: &ContactId) -> u32 {
        let count = self.requests.iter().filter(|request| request.to == *contact).count();
        u32::try_from(count).unwrap_or(u32::MAX)
    }
}

impl State {
    /// A look by its number.
    ///
    /// # Panics
    /// When there is no such look: numbers only come from this state, so it is our bug.
    pub fn look(&self, id: LookId) -> &Look {
        self.known_look(id).expect("OK because numbers come from the state")
    }

    /// A sitting by its number.
    ///
    /// # Panics
    /// When there is no such sitting: numbers only come from this state, so it is our bug.
    pub fn sitting(&self, number: SittingNumber) -> &Sitting {
        self.known_sitting(number).expect("OK because numbers come from the state")
    }

    /// Whether a first look of a sitting has been asked, which closes its announcement (R2).
    pub(super) fn first_look_was_asked(&self, number: SittingNumber) -> bool {
        let looks = self.sitting(number).looks.iter().map(|id| self.look(*id));
        looks.into_iter().any(|look| look.kind == LookKind::First && look.clock.is_some())
    }

    /// Whether anything is unsettled: a look of a begun sitting, asked or not yet, an open
    /// routine look, or a mark (R4).
    pub fn is_anything_unsettled(&self) -> bool {
        // A routine look that waits for the end of the quiet hours is not open yet.
        let waits_for_morning =
            |look: &Look| look.kind == LookKind::Routine && look.status == LookStatus::Planned;
        self.unsettled_looks().any(|look| !waits_for_morning(look))
    }

    /// The step, while sitting time is built up.
    pub fn step(&self) -> Option<StepNumber> {
        match self.phase {
            Phase::BuildUp { step } => Some(step),
            Phase::Routine { .. } => None,
        }
    }

    /// Contacts who can be reached, in calling order.
    pub fn reachable(&self) -> impl Iterator<Item = &ContactId> {
        self.terms.contacts.iter().filter(|contact| !self.unreachable.contains(contact))
    }

    /// Whether sitting is stopped.
    pub fn is_stopped(&self) -> bool {
        matches!(self.standing, Standing::Stopped { .. })
    }

    /// Whether sitting is suspended.
    pub fn is_suspended(&self) -> bool {
        self.standing == Standing::Suspended
    }

    /// Whether the follow-up pauses.
    pub fn is_paused(&self) -> bool {
        matches!(self.standing, Standing::Paused { .. })
    }

    /// Whether the follow-up has ended.
    pub fn is_closed(&self) -> bool {
        self.standing == Standing::Closed
    }
}
