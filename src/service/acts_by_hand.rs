//! What the staff do by hand: a finding taken by phone, a decision.
//!
//! Never here: who may do it (the edges check roles), reading words, printing.
//! Promises: each is the same act as the reply or the mail that would have said it, with the
//! person who did it in the record.

use super::act::{Act, Acted, act};
use super::error::ServiceError;
use super::office::Office;
use crate::care::{ClinicianId, ContactId, Verdict};
use crate::follow_up::{Aim, Instant, Occasion};
use crate::store::{FollowUpId, Tx, View};

/// A finding that somebody of the clinic took by phone.
#[derive(Clone, Debug)]
pub struct PhoneReport {
    /// Who said it.
    pub by: ContactId,
    /// Who took it.
    pub taken_by: ClinicianId,
    /// What was said.
    pub verdict: Verdict,
    /// The words, where they were written down; notices to the clinic quote them.
    pub words: Option<String>,
}

/// Takes a finding that was said by phone: as a reply to whatever fits best of what the contact
/// was asked.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn report(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    report: &PhoneReport,
    now: Instant,
) -> Result<Acted, ServiceError> {
    let PhoneReport { by, taken_by, verdict, words } = report;
    let occasion = Occasion::Reply { by: by.clone(), verdict: verdict.clone(), aim: Aim::Newest };
    let detail = serde_json::json!({ "taken_by": taken_by, "words": words.is_some() });
    let at = in_order(tx, follow_up, now)?;
    let words = words.as_deref();
    act(office, tx, follow_up, &Act { occasion: &occasion, kind: "phone", detail, at, words })
}

/// Takes a clinician's decision.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn decide(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, verdict): (&ClinicianId, Verdict),
    now: Instant,
) -> Result<Acted, ServiceError> {
    let occasion = Occasion::Decision { by: by.clone(), verdict };
    let detail = serde_json::json!({ "by_hand": by });
    let at = in_order(tx, follow_up, now)?;
    let words = None;
    act(office, tx, follow_up, &Act { occasion: &occasion, kind: "decision", detail, at, words })
}

/// When an act counts as done: now, but never before the last entry of the journal, whose order
/// stands.
pub(super) fn in_order(
    view: &View<'_>,
    follow_up: FollowUpId,
    now: Instant,
) -> Result<Instant, ServiceError> {
    Ok(view.last_entry_at(follow_up)?.map_or(now, |last| last.max(now)))
}
