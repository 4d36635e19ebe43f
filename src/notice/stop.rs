//! What contacts are told when sitting is stopped (R21).
//!
//! Never here: the alert to the clinician.
//! Promises: the first sentence says what to do; urgent signs and the way out of hours are in it.

use super::draft::{Answer, Block, Draft, Urgency};
use super::page::Page;
use crate::follow_up::event::StopReason;

/// The instruction to keep the client off the seat.
pub(super) fn instruction(page: &Page<'_>) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::Alert, &w.stop_subject());
    draft.lead(w.stop_lead(&page.client()));
    let reason = reason(page);
    if let Some((line, _)) = &reason {
        draft.line(line.clone());
    }
    draft.line(w.stop_do());
    if !matches!(reason, Some((_, StopReason::Clinician))) {
        draft.line(w.stop_told(&page.scene.setting.clinic.name));
    }
    let worse = Answer::new(w.label_alarming(), w.tap_alarming());
    draft.line(page.hours());
    draft.push(Block::Urgent(w.caution_urgent()));
    page.answers_under(&mut draft, w.stop_worse(), vec![worse]);
    draft.line(w.frame_own_words(&w.example_stopped()));
    draft.small(w.caution_service());
    draft
}

fn reason(page: &Page<'_>) -> Option<(String, StopReason)> {
    let (why, sites) = page.scene.stop()?;
    let (w, place) = (page.w, page.place(sites));
    let line = match why {
        StopReason::Persisting => w.stop_persisting(&place),
        StopReason::Alarming => w.stop_alarming(&place),
        StopReason::RecheckUnreported => w.stop_unreported(&place),
        StopReason::Clinician => w.stop_clinician(),
    };
    Some((line, why))
}
