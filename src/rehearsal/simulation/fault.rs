//! The kinds of trouble that a run may meet, and which of them are on.
//!
//! Never here: when trouble strikes, what it does.
//! Promises: each kind has one name on the command line; the list is the whole list.

use std::fmt;
use std::str::FromStr;

/// A kind of trouble.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fault {
    /// The process is killed inside a transaction.
    CrashBeforeCommit,
    /// The process is killed after a commit, before anybody hears of it.
    CrashAfterCommit,
    /// The process is killed after a mail was handed over, before that is written down.
    CrashAfterSend,
    /// A server refuses for now (4xx).
    RefusedForNow,
    /// A server refuses a recipient for good (5xx).
    RefusedForGood,
    /// A server refuses us, not the recipient (a login, its own state).
    RefusedUs,
    /// No server is reached.
    Unreachable,
    /// A server takes a mail and its answer is lost.
    AnswerLost,
    /// A server takes minutes to answer.
    SlowServer,
    /// An accepted mail takes hours to arrive.
    SlowMail,
    /// An accepted mail arrives twice.
    MailDoubled,
    /// An accepted mail comes back with a report of failure.
    Bounce,
    /// A report says that an accepted mail is delayed; it arrives all the same.
    DelayReport,
    /// A reply takes hours to arrive.
    ReplyLate,
    /// A reply arrives twice.
    ReplyDoubled,
    /// A reply arrives before one that was written earlier.
    ReplyReordered,
    /// A reply carries the notice with it, without marks of quotation.
    ReplyMisquoted,
    /// A reply says two things.
    ReplyContradicting,
    /// A reply is written by a contact who was not asked, with another's token.
    ReplyWrongPerson,
    /// A stranger writes with a token that is not theirs.
    ReplyStranger,
    /// A reply comes without its token, or with one that was never given out.
    ReplyTokenLost,
    /// A reply is no words at all.
    ReplyGarbled,
    /// Somebody who may not decide writes a clinician's words.
    ReplyOverreaching,
    /// A machine answers.
    AbsenceNotice,
    /// The service's clock is set forward by up to three hours.
    ClockForward,
    /// The service's clock is set back by up to three hours.
    ClockBack,
    /// Everything stands still until shortly before the next change of clocks.
    LeapToClockChange,
    /// The service is off for hours or days.
    Downtime,
    /// The disk is full for a while.
    DiskFull,
    /// The plan's file is edited and a new version of it comes into use for others.
    PlanEdited,
}

impl Fault {
    /// All kinds.
    pub const ALL: [Self; 30] = [
        Self::CrashBeforeCommit,
        Self::CrashAfterCommit,
        Self::CrashAfterSend,
        Self::RefusedForNow,
        Self::RefusedForGood,
        Self::RefusedUs,
        Self::Unreachable,
        Self::AnswerLost,
        Self::SlowServer,
        Self::SlowMail,
        Self::MailDoubled,
        Self::Bounce,
        Self::DelayReport,
        Self::ReplyLate,
        Self::ReplyDoubled,
        Self::ReplyReordered,
        Self::ReplyMisquoted,
        Self::ReplyContradicting,
        Self::ReplyWrongPerson,
        Self::ReplyStranger,
        Self::ReplyTokenLost,
        Self::ReplyGarbled,
        Self::ReplyOverreaching,
        Self::AbsenceNotice,
        Self::ClockForward,
        Self::ClockBack,
        Self::LeapToClockChange,
        Self::Downtime,
        Self::DiskFull,
        Self::PlanEdited,
    ];

    /// Its name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::CrashBeforeCommit => "crash-before-commit",
            Self::CrashAfterCommit => "crash-after-commit",
            Self::CrashAfterSend => "crash-after-send",
            Self::RefusedForNow => "refused-for-now",
            Self::RefusedForGood => "refused-for-good",
            Self::RefusedUs => "refused-us",
            Self::Unreachable => "unreachable",
            Self::AnswerLost => "answer-lost",
            Self::SlowServer => "slow-server",
            Self::SlowMail => "slow-mail",
            Self::MailDoubled => "mail-doubled",
            Self::Bounce => "bounce",
            Self::DelayReport => "delay-report",
            Self::ReplyLate => "reply-late",
            Self::ReplyDoubled => "reply-doubled",
            Self::ReplyReordered => "reply-reordered",
            Self::ReplyMisquoted => "reply-misquoted",
            Self::ReplyContradicting => "reply-contradicting",
            Self::ReplyWrongPerson => "reply-wrong-person",
            Self::ReplyStranger => "reply-stranger",
            Self::ReplyTokenLost => "reply-token-lost",
            Self::ReplyGarbled => "reply-garbled",
            Self::ReplyOverreaching => "reply-overreaching",
            Self::AbsenceNotice => "absence-notice",
            Self::ClockForward => "clock-forward",
            Self::ClockBack => "clock-back",
            Self::LeapToClockChange => "leap-to-clock-change",
            Self::Downtime => "downtime",
            Self::DiskFull => "disk-full",
            Self::PlanEdited => "plan-edited",
        }
    }

    fn bit(self) -> u32 {
        1 << (self as u32)
    }
}

/// Which kinds are on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Faults(u32);

impl Faults {
    /// None.
    pub const NONE: Self = Self(0);

    /// All.
    pub fn all() -> Self {
        Self(Fault::ALL.iter().fold(0, |bits, fault| bits | fault.bit()))
    }

    /// Whether a kind is on.
    pub fn has(self, fault: Fault) -> bool {
        self.0 & fault.bit() != 0
    }

    /// The same without a kind.
    #[must_use]
    pub fn without(self, fault: Fault) -> Self {
        Self(self.0 & !fault.bit())
    }

    /// Those that are on.
    pub fn list(self) -> Vec<Fault> {
        Fault::ALL.into_iter().filter(|fault| self.has(*fault)).collect()
    }
}

/// A word that names no kind of trouble.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no kind of trouble is called `{word}`; use `all`, `none`, or a list of: {known}")]
pub struct UnknownFault {
    word: String,
    known: String,
}

impl FromStr for Faults {
    type Err = UnknownFault;

    fn from_str(text: &str) -> Result<Self, UnknownFault> {
        match text {
            "all" => return Ok(Self::all()),
            "none" => return Ok(Self::NONE),
            _ => {}
        }
        text.split(',').try_fold(Self::NONE, |faults, word| {
            let word = word.trim();
            let fault = Fault::ALL.into_iter().find(|fault| fault.name() == word);
            let fault = fault.ok_or_else(|| UnknownFault {
                word: word.to_owned(),
                known: Fault::ALL.map(Fault::name).join(", "),
            })?;
            Ok(Self(faults.0 | fault.bit()))
        })
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if *self == Self::all() {
            return f.write_str("all");
        }
        if *self == Self::NONE {
            return f.write_str("none");
        }
        let names: Vec<&str> = self.list().into_iter().map(Fault::name).collect();
        f.write_str(&names.join(","))
    }
}

/// How often each kind struck.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FaultCounts([u64; Fault::ALL.len()]);

impl FaultCounts {
    /// Counts one.
    pub fn count(&mut self, fault: Fault) {
        self.0[fault as usize] += 1;
    }

    /// How often a kind struck.
    pub fn of(&self, fault: Fault) -> u64 {
        self.0[fault as usize]
    }

    /// Adds the counts of another run.
    pub fn add(&mut self, other: &Self) {
        for (mine, theirs) in self.0.iter_mut().zip(other.0) {
            *mine += theirs;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_are_written_as_they_are_read() {
        for text in ["all", "none", "bounce", "crash-after-send,downtime"] {
            assert_eq!(text.parse::<Faults>().unwrap().to_string(), text);
        }
        let unknown = "bounce,flood".parse::<Faults>().unwrap_err();
        assert!(unknown.to_string().starts_with("no kind of trouble is called `flood`"));
    }
}
