//! Why something happened, and of what kind it is: the words of an event that have no numbers.
//!
//! Never here: wording; what follows from a reason.
//! Promises: each reason is told apart by name in the journal, for good.

use serde::{Deserialize, Serialize};

/// What kind of look.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LookKind {
    /// During or at the end of a sitting.
    First,
    /// At a mark, once the client has been off the seat for the fade limit.
    Recheck,
    /// At a fixed time of day.
    Routine,
}

/// Why a planned sitting did not begin (R4).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DropReason {
    /// Something was unsettled.
    Unsettled,
    /// A mark was reported gone too recently.
    Resting,
    /// The service was away and a later sitting of the same absence is asked about (R26).
    Away,
}

/// Why a sitting earned no credit, in the order in which reasons apply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoCreditReason {
    /// It did not take place.
    NoSitting,
    /// One of its looks was missed.
    Missed,
    /// A mark faded later than `slow_fade`.
    SlowFade,
    /// A mark ended it early, or withdrew a look unanswered.
    CutShort,
}

/// Why sitting was stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StopReason {
    /// A mark lasted, came back or grew.
    Persisting,
    /// A sign that needs review at once.
    Alarming,
    /// Nobody reported on a mark.
    RecheckUnreported,
    /// A clinician said so.
    Clinician,
}

/// Why the clinician on cover is told something that needs no acknowledgement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TellReason {
    /// A look was missed (R15).
    Missed,
    /// Words that could not be read, or a start with nobody asked to look (R17, R2).
    Unclear,
    /// A site was marked again and again (R13).
    RepeatMarks,
    /// Fade times rise (R20).
    Rising,
    /// The next step would go over the fade limit (R9).
    Projection,
    /// A finding was corrected toward better (R18).
    Correction,
    /// An answer came late, or while stopped (R15, R18).
    LateReport,
    /// Sitting is suspended (R16).
    Suspended,
}

/// Why something said was set aside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AsideReason {
    /// Nobody asked this person.
    NotAsked,
    /// There is no alert to acknowledge.
    NoOpenAlert,
    /// Nothing is stopped or suspended.
    NothingStopped,
    /// The plan has no such step.
    NoSuchStep,
    /// The reading is not this person's to give.
    DoesNotFit,
    /// The follow-up has ended.
    Closed,
    /// It answers an alert that a newer alert or stop has overtaken.
    Overtaken,
}

/// Why a look was withdrawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WithdrawReason {
    /// A mark ended the sitting (R10).
    Mark,
    /// The start moved and the look is asked anew (R2).
    Moved,
    /// The sitting did not take place (R17).
    NoSitting,
    /// Sitting was stopped (R21).
    Stop,
    /// The follow-up was closed (R23).
    Closed,
    /// The service was away and a later look is asked instead (R26).
    Away,
    /// The follow-up pauses.
    Paused,
}

/// Why a follow-up pauses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PauseReason {
    /// The client is in hospital.
    Hospital,
    /// A holiday.
    Holiday,
    /// Any other reason.
    Other,
}

/// Why an alert was sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlertSending {
    /// It was just raised.
    Raised,
    /// It stays unacknowledged (R22).
    Repeated,
    /// It passed to the next on cover (R22).
    PassedOn,
    /// Acknowledged but not decided (R22).
    BroughtBack,
    /// To a clinician whose answer was given to an earlier one.
    Shown,
}

/// What an alert is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlertCause {
    /// Sitting was stopped.
    Stop,
    /// An alarming reply came while sitting was stopped already (R18).
    AlarmingAgain,
    /// Nobody is left who can be asked (R27).
    NobodyReachable,
}
