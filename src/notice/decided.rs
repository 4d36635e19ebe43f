//! To clinicians: what their own answer did, what was set aside, whom mail no longer reaches, and
//! which review is due.
//!
//! Never here: alerts, notices to contacts.
//! Promises: an answer that changed nothing is said to have changed nothing.

use super::draft::{Draft, Urgency};
use super::page::Page;
use crate::care::ContactId;
use crate::follow_up::StepNumber;
use crate::follow_up::event::AsideReason;

/// A clinician's answer that took effect.
#[derive(Clone, Copy)]
pub(super) enum Decided {
    Seen,
    Resumed(StepNumber),
    KeptStopped,
    Closed,
}

/// The line that confirms a decision to the one who made it.
pub(super) fn confirmation(page: &Page<'_>, decided: Decided) -> Draft {
    let (w, client, client_ref) = (page.w, page.client(), page.client_ref());
    let mut draft = page.draft(Urgency::News, &w.decided_subject());
    draft.lead(match decided {
        Decided::Seen => w.decided_seen(&client, &client_ref),
        Decided::Resumed(step) => w.decided_resumed(&client, &client_ref, &page.step(step)),
        Decided::KeptStopped => w.decided_kept(&client, &client_ref),
        Decided::Closed => w.decided_closed(&client, &client_ref),
    });
    if matches!(decided, Decided::Seen) && page.scene.state.is_stopped() {
        draft.line(w.decided_waiting());
    }
    page.clinician_cautions(&mut draft);
    draft
}

/// A review has fallen due (R8).
pub(super) fn review(page: &Page<'_>, day: u32) -> Draft {
    let w = page.w;
    let days = w.counted("count.days", day);
    let mut draft = page.draft(Urgency::News, &w.review_subject(&days));
    draft.lead(w.review_lead(&page.client(), &page.client_ref(), &days));
    page.clinician_cautions(&mut draft);
    draft
}

/// Something said was set aside (R23, R29). `who` is the writer's name.
pub(super) fn set_aside(page: &Page<'_>, who: &str, why: AsideReason) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::Request, &w.aside_subject());
    draft.lead(w.aside_lead(&page.client(), &page.client_ref(), &who));
    let reason = match why {
        AsideReason::NotAsked => w.aside_not_asked(),
        AsideReason::NoOpenAlert => w.aside_no_open_alert(),
        AsideReason::NothingStopped => w.aside_nothing_stopped(),
        AsideReason::NoSuchStep => {
            let steps = (1..=page.scene.steps()).map(|step| page.step(StepNumber::new(step)));
            w.aside_no_such_step(&w.list(steps))
        }
        AsideReason::DoesNotFit => w.aside_does_not_fit(),
        AsideReason::Closed => w.aside_closed(),
        AsideReason::Overtaken => w.aside_overtaken(),
    };
    let is_stopped = page.scene.state.is_stopped();
    draft.line(if is_stopped { format!("{reason} {}", w.aside_still()) } else { reason });
    if let Some(said) = &page.scene.backdrop.said {
        draft.line(w.aside_said());
        draft.quote(w, said.words);
    }
    page.clinician_cautions(&mut draft);
    draft
}

/// Mail to a contact fails for good (R27).
pub(super) fn unreachable(page: &Page<'_>, contact: &ContactId) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::Request, &w.unreachable_subject());
    let who = page.contact(contact);
    draft.lead(w.unreachable_lead(&page.client(), &page.client_ref(), &who));
    let left: Vec<_> = page.scene.state.reachable().map(|left| page.contact(left)).collect();
    draft.line(if left.is_empty() {
        w.unreachable_none()
    } else {
        w.unreachable_next(&w.list(left))
    });
    page.clinician_cautions(&mut draft);
    draft
}
