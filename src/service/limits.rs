//! Limits on what comes in, so that no flood of mail and no talk between machines buries what matters.
//!
//! Never here: reading mail.
//! Promises: a report of a mark or worse by a contact on file is above every limit; what is beyond a
//! limit is kept and set aside, and the clinic is told of the flood once an hour instead of once a mail.

use chrono::TimeDelta;

use super::error::ServiceError;
use super::office::Office;
use super::waking::tell_first_on_cover;
use crate::follow_up::Instant;
use crate::notice::ServiceTrouble;
use crate::store::{FollowUpId, PersonRef, TakenMail, Tx, Urgency, View};

/// What the limits count over.
const HOUR: TimeDelta = TimeDelta::hours(1);
/// Mails of one person about one client in an hour that are answered. A caregiver who looks every ten
/// minutes and corrects each answer stays below; two machines that answer each other do not (common
/// practice, no source).
const ANSWERED_MAX: u32 = 20;
/// Notices about mail set aside, in an hour. Whoever gets more reads none (common practice, no source).
const SHOWN_MAX: u32 = 20;
/// The newest mails among which is counted: more than any hour within the limits brings.
const LOOK_BACK: u32 = 2000;

/// What the total of strangers' mail is counted over.
const DAY: TimeDelta = TimeDelta::days(1);
/// Mails of strangers in a day that are kept whole: many times what any clinic's mailbox gets of them
/// (common practice, no source).
const STRANGERS_MAILS_MAX: u32 = 500;
/// Bytes of strangers' mails in a day that are kept: eight of the largest (common practice, no source).
const STRANGERS_BYTES_MAX: u64 = 200 * 1024 * 1024;
/// What is kept of a mail beyond that: who sent it, when, and the beginning of its words.
const HEAD_BYTES_KEPT: usize = 4 * 1024;

/// Whether a person has written so often in the last hour that nothing but a worrying report is
/// answered any more.
///
/// # Errors
/// When the store refuses.
pub fn is_flooding(
    view: &View<'_>,
    follow_up: Option<FollowUpId>,
    person: &PersonRef,
    now: Instant,
) -> Result<bool, ServiceError> {
    Ok(view.received_since(follow_up, person, now - HOUR, LOOK_BACK)? >= ANSWERED_MAX)
}

/// Whether one more mail set aside may be shown to the clinic. Where it is the first beyond the limit,
/// the clinic is told of the flood instead.
///
/// # Errors
/// When the store refuses, or the notice cannot be composed.
pub fn may_show(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<bool, ServiceError> {
    let shown = tx.desk_mail_since(now - HOUR, LOOK_BACK)?;
    if shown == SHOWN_MAX {
        tell_first_on_cover(office, tx, now, Urgency::Alert, |desk| {
            desk.service_in_trouble(&[(ServiceTrouble::Flood, now)])
        })?;
    }
    Ok(shown < SHOWN_MAX)
}

/// Keeps strangers from filling the disk: of a stranger's mail beyond what a day may bring, only the
/// head is kept. It has been read, judged and set aside like any other by then. The clinic is told
/// of the first. The day is counted back from the mail's own arrival, so that a mailbox that filled
/// up during an absence is no flood.
///
/// # Errors
/// When the store refuses, or the notice cannot be composed.
pub fn keep_within_day(
    office: &Office,
    tx: &mut Tx<'_>,
    mail: &TakenMail,
    now: Instant,
) -> Result<(), ServiceError> {
    // This one is counted with them.
    let kept = tx.strangers_since(mail.received_at - DAY, LOOK_BACK)?;
    let is_within = kept.mails <= STRANGERS_MAILS_MAX && kept.bytes <= STRANGERS_BYTES_MAX;
    if is_within || mail.raw.len() <= HEAD_BYTES_KEPT {
        return Ok(());
    }
    tx.shorten_received(mail.id, &mail.raw[..HEAD_BYTES_KEPT])?;
    if kept.shortened == 0 {
        tell_first_on_cover(office, tx, now, Urgency::Alert, |desk| {
            desk.service_in_trouble(&[(ServiceTrouble::StrangersMail, now)])
        })?;
    }
    Ok(())
}
