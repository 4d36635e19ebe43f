//! What becomes of mail that was tried: sent, tried again, or refused for good (R27).
//!
//! Never here: SMTP; the loop that sends.
//! Promises: 'sent' is written only after the server accepted; what is in doubt is sent again
//! with the same bytes; an alert is never given up.

use chrono::TimeDelta;

use super::act::{Act, act};
use super::error::ServiceError;
use super::office::Office;
use super::rounds;
use crate::follow_up::{Instant, Occasion};
use crate::post::Outcome;
use crate::store::{ClaimedMail, StoreError, Tx, Urgency, View};

/// The first wait before a mail is tried again.
const FIRST_WAIT: TimeDelta = TimeDelta::seconds(15);
/// The longest wait for ordinary mail: servers ask senders to wait some minutes.
const LONGEST_WAIT: TimeDelta = TimeDelta::minutes(15);
/// The longest wait for stops and alerts.
const LONGEST_URGENT_WAIT: TimeDelta = TimeDelta::minutes(2);

/// Whether mail waits for an instant further ahead than any wait of ours: the clock was set back
/// since it was put in. An alert must not wait for the clock to catch up.
///
/// # Errors
/// When the store refuses.
pub fn is_mail_ahead(view: &View<'_>, now: Instant) -> Result<bool, StoreError> {
    Ok(is_ahead(view.last_try()?, now))
}

/// The same, by when the last of the waiting mail is to be tried.
pub fn is_ahead(last_try: Option<Instant>, now: Instant) -> bool {
    last_try.is_some_and(|last| last > now + LONGEST_WAIT)
}

/// Brings mail that waits for such an instant forward.
///
/// # Errors
/// When the store refuses.
pub fn hasten(tx: &mut Tx<'_>, now: Instant) -> Result<usize, StoreError> {
    tx.hasten_mail(now + LONGEST_WAIT, now)
}

/// Notes what became of a mail, and draws the consequence where a contact cannot be reached.
///
/// # Errors
/// When the store refuses; then the mail counts as being sent still, and is tried again.
pub fn settle_mail(
    office: &Office,
    tx: &mut Tx<'_>,
    mail: &ClaimedMail,
    outcome: &Outcome,
    now: Instant,
) -> Result<(), ServiceError> {
    match outcome {
        Outcome::Accepted { .. } => tx.mark_sent(mail.id, now)?,
        Outcome::Refused(refusal) if refusal.recipient_at_fault => {
            let waited = now - mail.created_at > office.clinic.mail.give_up_after.elapsed();
            if refusal.permanent || waited {
                tx.mark_refused(mail.id, &format!("refused {}", refusal.code), now)?;
                undeliverable(office, tx, mail, now)?;
            } else {
                retry(tx, mail, &format!("refused {}", refusal.code), now)?;
            }
        }
        // The fault is ours or the server's: never the recipient's, so never given up.
        Outcome::Refused(refusal) => retry(tx, mail, &format!("refused {}", refusal.code), now)?,
        Outcome::Unreachable { trouble, .. } => retry(tx, mail, &trouble.to_string(), now)?,
        Outcome::InDoubt { .. } => retry(tx, mail, "in doubt", now)?,
    }
    Ok(())
}

/// A mail cannot be delivered: its contact is unreachable from now on (R27). Of a clinician's
/// address the clinic is told through everybody else on cover, by the alert's own passing on.
fn undeliverable(
    office: &Office,
    tx: &mut Tx<'_>,
    mail: &ClaimedMail,
    now: Instant,
) -> Result<(), ServiceError> {
    let whose = (mail.mail.follow_up, &mail.mail.person);
    for (follow_up, contact) in rounds::contacts_of(tx, Some(mail.id), whose)? {
        let occasion = Occasion::Unreachable { contact };
        let detail = serde_json::json!({ "outbox": mail.id.number() });
        let unreachable =
            Act { occasion: &occasion, kind: "undeliverable", detail, at: now, words: None };
        act(office, tx, follow_up, &unreachable)?;
    }
    Ok(())
}

fn retry(
    tx: &mut Tx<'_>,
    mail: &ClaimedMail,
    class: &str,
    now: Instant,
) -> Result<(), ServiceError> {
    let longest = match mail.mail.urgency {
        Urgency::Stop | Urgency::Alert => LONGEST_URGENT_WAIT,
        Urgency::Recheck | Urgency::FirstLook | Urgency::Routine | Urgency::Digest => LONGEST_WAIT,
    };
    let doublings = mail.attempts.min(10);
    let wait = (FIRST_WAIT * 2_i32.pow(doublings)).min(longest);
    tx.retry_mail(mail.id, now + wait, class)?;
    Ok(())
}
