//! The one door out: the facts that a decision leaves behind, as the journal keeps them.
//!
//! Never here: wording, JSON keys of the rehearsal, SQL.
//! Promises: state is rebuilt from these alone; every event names the rule that it follows;
//! events say who by reference only.

mod detail;
mod reason;

use chrono::{NaiveDate, NaiveTime};
use serde::{Deserialize, Serialize};

use super::calendar::Instant;
use super::ids::{AlertId, LookId, SittingNumber, StepNumber};
use super::terms::Terms;
use crate::care::{
    AskedHours, ClinicianId, ContactId, FittingVersion, Minutes, PlanVersion, Reading, Site,
};

pub use detail::{Found, RequestClock, TellDetail};
pub use reason::{
    AlertCause, AlertSending, AsideReason, DropReason, LookKind, NoCreditReason, PauseReason,
    StopReason, TellReason, WithdrawReason,
};

/// A fact with its time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// When it happened.
    pub at: Instant,
    /// What happened.
    #[serde(flatten)]
    pub event: Event,
}

/// Something that happened in a follow-up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
#[allow(missing_docs, reason = "the fields are named after the types that explain them")]
pub enum Event {
    /// The follow-up begins (journal head).
    Enrolled { terms: Box<Terms>, from: Instant },
    /// A planned sitting begins and is announced (R2). `slot` is its planned day and time.
    Sitting {
        sitting: SittingNumber,
        step: StepNumber,
        minutes: Minutes,
        start: Instant,
        slot: (NaiveDate, NaiveTime),
        to: ContactId,
        offsets: Vec<Minutes>,
    },
    /// The start of a sitting was stated (R2).
    Started { sitting: SittingNumber, start: Instant },
    /// A cancelled sitting is taken up again (R2).
    TakenUp { sitting: SittingNumber, start: Instant, offsets: Vec<Minutes> },
    /// A planned sitting did not begin (R4).
    Dropped { step: StepNumber, why: DropReason, slot: (NaiveDate, NaiveTime) },
    /// A first look or a recheck is planned.
    LookPlanned {
        look: LookId,
        kind: LookKind,
        sitting: Option<SittingNumber>,
        of: Option<LookId>,
        due: Instant,
    },
    /// A look that was not asked yet has a new time: its sitting began at another (R2), or it
    /// waits for the end of the quiet hours (R24).
    LookMoved { look: LookId, due: Instant },
    /// A reminder that came due before the quiet hours and is met in them waits for their end
    /// (R24).
    ReminderPutOff { look: LookId, until: Instant },
    /// A look is no longer wanted.
    LookWithdrawn { look: LookId, why: WithdrawReason },
    /// A routine look comes up (R3, R8).
    RoutineDue { look: LookId, slot: (NaiveDate, NaiveTime) },
    /// A routine look's time passed while the service was away (R26).
    RoutinePassed { slot: (NaiveDate, NaiveTime) },
    /// A request goes out.
    Asked {
        look: LookId,
        kind: LookKind,
        sitting: Option<SittingNumber>,
        to: ContactId,
        again: u32,
        clock: RequestClock,
    },
    /// A look that nobody was asked for (R29).
    Unasked { look: LookId, kind: LookKind, sitting: Option<SittingNumber>, by: ContactId },
    /// A contact replied to a look.
    Answered {
        look: LookId,
        kind: LookKind,
        sitting: Option<SittingNumber>,
        by: ContactId,
        reading: Reading,
        sites: Vec<Site>,
        minutes: Option<Minutes>,
    },
    /// A finding now stands for a look. `gone`: a mark was reported gone in time, which starts a
    /// rest (R4).
    Found { look: LookId, found: Found, gone: bool },
    /// Words about a look could not be read; counted (R17).
    NotUnderstood { look: LookId },
    /// Sites were named with a mark while stopped: remembered (R13).
    SitesNamed { sitting: SittingNumber, sites: Vec<Site> },
    /// A sitting was ended by a mark (R10).
    SittingEnded { sitting: SittingNumber, cut_short: bool },
    /// A sitting is to be settled anew (R18); `run` is what is left of the run.
    Reopened { sitting: SittingNumber, run: u32 },
    /// A sitting is settled with credit (R5).
    Credit { sitting: SittingNumber, run: u32, fade: Option<Minutes> },
    /// A sitting is settled without credit (R5, R6, R16, R17).
    NoCredit { sitting: SittingNumber, why: NoCreditReason, fade: Option<Minutes> },
    /// A slow fade at a routine look: the run starts again (R6).
    RunBroken,
    /// A look is missed (R15).
    Missed { look: LookId, kind: LookKind, sitting: Option<SittingNumber> },
    /// Sitting is suspended (R16).
    Suspended,
    /// The suspension is lifted (R16).
    Unsuspended,
    /// The next step is reached (R7).
    Advanced { step: StepNumber, date: NaiveDate },
    /// Held on the step (R9).
    Held { step: StepNumber, expect_tenths: i64, date: NaiveDate },
    /// The routine phase begins (R8).
    Routine { date: NaiveDate },
    /// A local midnight decided nothing because something was unsettled (R7).
    MidnightPassed { date: NaiveDate },
    /// A clinician review falls due (R8).
    Review { day: u32 },
    /// Sitting is stopped (R11, R12, R23). `by`: the clinician who said so, where one did.
    Stopped {
        why: StopReason,
        sites: Vec<Site>,
        step: StepNumber,
        look: Option<LookId>,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        by: Option<ClinicianId>,
    },
    /// A contact is told to keep the client off the seat (R21).
    ToldToStop { to: ContactId },
    /// An alert goes out (R21, R22).
    Alerted {
        alert: AlertId,
        cause: AlertCause,
        sending: AlertSending,
        to: ClinicianId,
        again: u32,
    },
    /// An alert is acknowledged (R22). `alert`: which one; none in journals of earlier versions.
    Acknowledged {
        by: ClinicianId,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        alert: Option<AlertId>,
    },
    /// Sitting may begin again (R23).
    Resumed { by: ClinicianId, step: StepNumber },
    /// Sitting stays stopped (R23).
    KeptStopped { by: ClinicianId },
    /// The follow-up has ended (R23).
    Closed { by: ClinicianId },
    /// The clinician on cover is told something.
    ClinicTold { why: TellReason, to: ClinicianId, detail: TellDetail },
    /// Something said was set aside (R2, R23, R29). `by` is a contact's or a clinician's reference.
    SetAside { by: String, why: AsideReason },
    /// A contact cannot be reached any more (R27).
    Unreachable { contact: ContactId },
    /// A fitting is on file that the follow-up tests from now on; the record itself is kept apart
    /// from the journal. `in_spite_of`: who began on it although it was not ready.
    Fitted {
        version: FittingVersion,
        date: NaiveDate,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        in_spite_of: Option<ClinicianId>,
    },
    /// The clinic changed who is asked. `readdressed`: those who can be reached again, since their
    /// address is new.
    ContactsChanged {
        contacts: Vec<ContactId>,
        #[serde(skip_serializing_if = "Vec::is_empty", default)]
        readdressed: Vec<ContactId>,
    },
    /// The clinic said in which hours a contact is asked (R14); no stretch means at any hour.
    HoursSaid { contact: ContactId, hours: AskedHours },
    /// Another version of the plan is in force. `step` is the step to go on at, none in a routine
    /// phase that goes on; `last` is the last step of the new ladder.
    PlanAdopted { by: ClinicianId, plan: PlanVersion, step: Option<StepNumber>, last: StepNumber },
    /// The follow-up pauses: no sittings, no looks but those at marks that are reported.
    Paused { by: ClinicianId, why: PauseReason },
    /// A pause is over. `step` is the step to go on at, none in the routine phase.
    Unpaused { by: ClinicianId, step: Option<StepNumber> },
    /// The service was away (R26).
    Awoke { away_since: Instant },
    /// The machine's clock was set back, from `instead_of` to the entry's own time: what waits for
    /// a time to run out goes on waiting as long as it would have. The only entry that may be
    /// earlier than the one before it.
    ClockSetBack { instead_of: Instant },
}

impl Event {
    /// The rules that an event follows, for the reader of a journal.
    pub fn rule(&self) -> &'static str {
        match self {
            Self::Enrolled { .. } => "enrolment",
            Self::Sitting { .. } | Self::Started { .. } | Self::TakenUp { .. } => "R2",
            Self::Dropped { .. } => "R4",
            Self::LookPlanned { kind: LookKind::Recheck, .. } => "R10",
            Self::LookPlanned { .. } | Self::RoutineDue { .. } => "R3",
            Self::LookMoved { .. } => "R2, R24",
            Self::ReminderPutOff { .. } => "R24",
            Self::LookWithdrawn { why, .. } => match why {
                WithdrawReason::Mark => "R10",
                WithdrawReason::Moved => "R2",
                WithdrawReason::NoSitting => "R17",
                WithdrawReason::Stop => "R21",
                WithdrawReason::Closed => "R23",
                WithdrawReason::Away => "R26",
                WithdrawReason::Paused => "pause",
            },
            Self::RoutinePassed { .. } | Self::Awoke { .. } => "R26",
            Self::Asked { clock: RequestClock::Unchanged, .. } => "R17",
            Self::Asked { kind: LookKind::Recheck, .. } => "R12",
            Self::Asked { clock: RequestClock::First { .. }, .. } => "R3",
            Self::Asked { clock: RequestClock::Again { .. }, .. } | Self::HoursSaid { .. } => "R14",
            Self::Unasked { .. } | Self::SetAside { .. } => "R29",
            Self::Answered { .. } | Self::Found { .. } => "R4",
            Self::NotUnderstood { .. } => "R17",
            Self::SitesNamed { .. } => "R13",
            Self::SittingEnded { .. } => "R10",
            Self::Reopened { .. } => "R18",
            Self::Credit { .. } => "R5",
            Self::NoCredit { why, .. } => match why {
                NoCreditReason::NoSitting => "R17",
                NoCreditReason::Missed => "R16",
                NoCreditReason::SlowFade => "R6",
                NoCreditReason::CutShort => "R5",
            },
            Self::RunBroken => "R6",
            Self::Missed { .. } => "R15",
            Self::Suspended | Self::Unsuspended => "R16",
            Self::Advanced { .. } | Self::MidnightPassed { .. } => "R7",
            Self::Held { .. } => "R9",
            Self::Routine { .. } | Self::Review { .. } => "R8",
            Self::Stopped { why, .. } => match why {
                StopReason::Persisting | StopReason::Alarming => "R11",
                StopReason::RecheckUnreported => "R12",
                StopReason::Clinician => "R23",
            },
            Self::ToldToStop { .. } => "R21",
            Self::Alerted { sending: AlertSending::Raised, cause, .. } => match cause {
                AlertCause::Stop => "R21",
                AlertCause::AlarmingAgain => "R18",
                AlertCause::NobodyReachable => "R27",
            },
            Self::Alerted { .. } | Self::Acknowledged { .. } => "R22",
            Self::Resumed { .. } | Self::KeptStopped { .. } | Self::Closed { .. } => "R23",
            Self::ClinicTold { why, .. } => match why {
                TellReason::Missed => "R15",
                TellReason::Unclear => "R17",
                TellReason::RepeatMarks => "R13",
                TellReason::Rising => "R20",
                TellReason::Projection => "R9",
                TellReason::Correction => "R18",
                TellReason::LateReport => "R15",
                TellReason::Suspended => "R16",
            },
            Self::Unreachable { .. } | Self::ContactsChanged { .. } => "R27",
            Self::PlanAdopted { .. } => "adoption",
            Self::Fitted { .. } => "fitting",
            Self::Paused { .. } | Self::Unpaused { .. } => "pause",
            Self::ClockSetBack { .. } => "clock",
        }
    }
}
