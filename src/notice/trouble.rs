//! Notices about the service itself: what hinders it, and that it is over.
//!
//! Never here: noticing trouble; choosing how to tell it.
//! Promises: each trouble is one line, with since when; what the clinic can do meanwhile is said; no
//! client, address or word of a person stands in it.

use super::desk::Desk;
use super::draft::{Block, Draft, Urgency};
use super::wording::Wording;
use crate::care::Minutes;
use crate::follow_up::Instant;

/// A direction of mail.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
pub enum MailWay {
    /// To people.
    Out,
    /// From people.
    In,
}

/// Why mail does not move.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
pub enum MailTrouble {
    /// The server does not answer, or not in time.
    NoAnswer,
    /// Its certificate is not accepted.
    Certificate,
    /// It refuses the login.
    Login,
    /// The mail folder cannot be used.
    Folder,
    /// It answers what it must not.
    Answer,
}

/// What hinders the service.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
pub enum ServiceTrouble {
    /// Mail does not move.
    Mail(MailWay, MailTrouble),
    /// The disk is full.
    Full,
    /// The data cannot be written or read.
    Data,
    /// The data is damaged.
    Damaged,
    /// The machine's clock jumped ahead, or the machine slept.
    ClockAhead(Minutes),
    /// The machine's clock was set back.
    ClockBack(Minutes),
    /// A part of the service hangs.
    Hanging,
    /// The day's message has not left.
    DailyMessage,
    /// The daily backup failed.
    Backup,
    /// So much mail comes that cannot be placed that it is no longer shown one by one.
    Flood,
    /// So much mail of strangers came in a day that only the head of more is kept.
    StrangersMail,
    /// The board cannot open.
    Board,
    /// More mail falls due than leaves.
    Backlog(Waiting),
}

/// Mail that waits though its time has come.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
pub struct Waiting {
    /// How many mails.
    pub mails: u32,
    /// How long the first of them has waited.
    pub longest: Minutes,
}

impl Desk<'_> {
    /// The service is in trouble.
    pub fn service_in_trouble(&self, troubles: &[(ServiceTrouble, Instant)]) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::Alert, w.trouble_subject());
        draft.lead(w.trouble_lead());
        let line = |(what, since): &(ServiceTrouble, Instant)| {
            w.trouble_since(&self.when(*since), &trouble_in_words(w, *what))
        };
        draft.push(Block::Unordered(troubles.iter().map(line).collect()));
        draft.line(w.trouble_do());
        draft.small(w.caution_clinician());
        draft
    }

    /// What had hindered the service is over.
    pub fn service_in_order(&self, over: &[ServiceTrouble]) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::News, w.trouble_over_subject());
        draft.lead(w.trouble_over());
        let line = |what: &ServiceTrouble| trouble_in_words(w, *what);
        draft.push(Block::Unordered(over.iter().map(line).collect()));
        draft.small(w.caution_clinician());
        draft
    }
}

/// What hinders the service, in one line.
pub fn trouble_in_words(w: &Wording, what: ServiceTrouble) -> String {
    match what {
        ServiceTrouble::Mail(way, why) => {
            let why = match why {
                MailTrouble::NoAnswer => w.trouble_why_answer(),
                MailTrouble::Certificate => w.trouble_why_certificate(),
                MailTrouble::Login => w.trouble_why_login(),
                MailTrouble::Folder => w.trouble_why_folder(),
                MailTrouble::Answer => w.trouble_why_other(),
            };
            match way {
                MailWay::Out => w.trouble_out(&why),
                MailWay::In => w.trouble_in(&why),
            }
        }
        ServiceTrouble::Full => w.trouble_full(),
        ServiceTrouble::Data => w.trouble_data(),
        ServiceTrouble::Damaged => w.trouble_damaged(),
        ServiceTrouble::ClockAhead(by) => w.trouble_clock_ahead(&w.duration(by)),
        ServiceTrouble::ClockBack(by) => w.trouble_clock_back(&w.duration(by)),
        ServiceTrouble::Hanging => w.trouble_hanging(),
        ServiceTrouble::DailyMessage => w.trouble_daily(),
        ServiceTrouble::Backup => w.trouble_backup(),
        ServiceTrouble::Flood => w.trouble_flood(),
        ServiceTrouble::StrangersMail => w.trouble_strangers(),
        ServiceTrouble::Board => w.trouble_board(),
        ServiceTrouble::Backlog(Waiting { mails, longest }) => {
            w.trouble_backlog(&w.counted("count.mails", mails), &w.duration(longest))
        }
    }
}
