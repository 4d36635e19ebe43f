//! How things stand, to the contacts: resumed, ended, suspended, paused, goes on, build-up
//! complete.
//!
//! Never here: stops (those have a file of their own).
//! Promises: each says first whether the client sits or not.

use super::draft::{Answer, Draft, Urgency};
use super::page::Page;
use crate::follow_up::StepNumber;

/// Sitting may begin again (R23).
pub(super) fn resumed(page: &Page<'_>, step: StepNumber) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::Request, &w.resumed_subject());
    draft.lead(w.resumed_lead(&page.client(), &page.step(step)));
    if let Some(next) = page.scene.next_sitting() {
        draft.line(w.resumed_next(&page.when(next)));
    }
    page.contact_cautions(&mut draft);
    draft
}

/// The follow-up has ended (R23).
pub(super) fn closed(page: &Page<'_>) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::News, &w.closed_subject());
    draft.lead(w.closed_lead(&page.client()));
    draft.line(w.closed_after(&page.scene.setting.clinic.name));
    page.contact_cautions(&mut draft);
    draft
}

/// No sitting until somebody looks and answers (R16).
pub(super) fn suspended(page: &Page<'_>) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::Request, &w.suspended_subject());
    draft.lead(w.suspended_lead(&page.client()));
    let missed = page.scene.state.missed_in_a_row.max(page.scene.plan.looks.missed_to_suspend);
    draft.line(w.suspended_why(&w.counted("count.sittings", missed)));
    draft.line(w.suspended_end());
    let answers = vec![
        Answer::new(w.label_clear(), w.tap_clear()),
        Answer::new(w.label_marked(), w.tap_marked()),
        Answer::new(w.label_alarming(), w.tap_alarming()),
    ];
    page.answers(&mut draft, answers, &w.example_look());
    page.contact_cautions(&mut draft);
    draft
}

/// Sitting goes on (R16).
pub(super) fn unsuspended(page: &Page<'_>) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::News, &w.unsuspended_subject());
    draft.lead(w.unsuspended_lead(&page.client()));
    if let Some(next) = page.scene.next_sitting() {
        draft.line(w.resumed_next(&page.when(next)));
    }
    draft.small(w.caution_service());
    draft
}

/// Nothing is asked for a while; marks are taken all the same.
pub(super) fn paused(page: &Page<'_>) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::Request, &w.paused_subject());
    draft.lead(w.paused_lead(&page.client()));
    draft.line(w.paused_report());
    let answers = vec![
        Answer::new(w.label_marked(), w.tap_marked()),
        Answer::new(w.label_alarming(), w.tap_alarming()),
    ];
    page.answers(&mut draft, answers, &w.example_look());
    page.contact_cautions(&mut draft);
    draft
}

/// A pause of the routine phase is over.
pub(super) fn unpaused(page: &Page<'_>) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::News, &w.unpaused_subject());
    draft.lead(w.unpaused_lead(&page.client()));
    page.contact_cautions(&mut draft);
    draft
}

/// The build-up is complete (R8).
pub(super) fn routine(page: &Page<'_>) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::News, &w.routine_subject());
    draft.lead(w.routine_lead(&page.client()));
    let ladder = page.scene.plan.ladder(&page.scene.state.terms.risk);
    if let Some(routine) = ladder.and_then(|ladder| ladder.routine.as_ref()) {
        let clocks = routine.look_at.iter().map(|time| w.clock(*time));
        draft.line(w.routine_looks(&w.list(clocks)));
    }
    page.contact_cautions(&mut draft);
    draft
}
