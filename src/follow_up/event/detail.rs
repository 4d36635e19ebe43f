//! What an event rests on: findings, clocks of requests, the numbers behind a notice.
//!
//! Never here: wording; rules.

use serde::{Deserialize, Serialize};

use crate::care::{ContactId, Finding, Minutes, Site};
use crate::follow_up::calendar::Instant;
use crate::follow_up::ids::{LookId, SittingNumber};

/// What a finding was, and what it rests on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Found {
    /// The finding.
    pub finding: Finding,
    /// The fade time, where the finding says that a mark has gone (R6).
    pub fade: Option<Minutes>,
    /// The minutes that the reply stated.
    pub minutes: Option<Minutes>,
    /// When the skin was looked at (R10).
    #[serde(with = "crate::follow_up::stored::instant")]
    pub looked_at: Instant,
    /// When the reply came.
    #[serde(with = "crate::follow_up::stored::instant")]
    pub said_at: Instant,
    /// Who reported it.
    pub by: ContactId,
    /// The sites named, as the reply gave them.
    pub sites: Vec<Site>,
}

/// What follows a request when it stays unanswered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RequestClock {
    /// The look's first request: its clock starts.
    First {
        /// When the wait for an answer runs out (R14); none where nobody is left to ask again.
        wait_until: Option<Instant>,
        /// When the look is missed, or the recheck is a stop (R15, R12).
        over_at: Instant,
    },
    /// Asked again, or of the next contact.
    Again {
        /// When the wait runs out; none after the last contact's last request.
        wait_until: Option<Instant>,
        /// How often this contact was asked again by R14.
        repeats: u32,
    },
    /// Asked again because the words were unclear: the clock stays as it was (R17).
    Unchanged,
}

/// The numbers behind a notice to the clinic, so that it can explain itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TellDetail {
    /// Nothing beside the reason.
    Nothing,
    /// About one look.
    Look {
        /// The look.
        look: LookId,
    },
    /// About one sitting's announcement.
    Announcement {
        /// The sitting.
        sitting: SittingNumber,
    },
    /// Sites that were marked again (R13).
    RepeatedSites {
        /// The sitting of the report.
        sitting: SittingNumber,
        /// The sites, no repeats.
        sites: Vec<Site>,
    },
    /// A projected fade time (R9).
    Projection {
        /// The fade time to expect, in tenths of a minute.
        expect_tenths: i64,
        /// The sitting time of the next step.
        at_sit: Minutes,
    },
    /// A rising trend (R20).
    Trend {
        /// How many points.
        points: u32,
        /// Mann–Kendall's S.
        s: i64,
        /// The one-sided p-value, in millionths, rounded up.
        p_millionths: u32,
    },
}
