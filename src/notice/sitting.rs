//! The announcement that a sitting begins (R2).
//!
//! Never here: requests to look.
//! Promises: it names how long, and when the looks come.

use super::draft::{Answer, Draft, Urgency};
use super::page::Page;
use crate::care::Minutes;
use crate::follow_up::{Instant, SittingNumber, StepNumber};

/// A sitting that begins.
pub(super) struct Begin<'a> {
    pub(super) number: SittingNumber,
    pub(super) step: StepNumber,
    pub(super) minutes: Minutes,
    pub(super) start: Instant,
    pub(super) offsets: &'a [Minutes],
}

/// The announcement of a sitting.
pub(super) fn announcement(page: &Page<'_>, begin: &Begin<'_>) -> Draft {
    let w = page.w;
    let duration = page.duration(begin.minutes);
    let subject = w.sitting_subject(&duration, &page.clock(begin.start));
    let mut draft = page.draft(Urgency::Request, &subject);
    draft.lead(w.sitting_lead(&page.client(), &duration, &page.when(begin.start)));
    draft.line(w.sitting_before());
    let answers = vec![
        Answer::new(w.label_started(), w.tap_started()),
        Answer::new(w.label_no_sitting(), w.tap_no_sitting()),
    ];
    page.answers(&mut draft, answers, &w.example_start());
    let looks = begin.offsets.iter().map(|offset| page.when(begin.start + offset.elapsed()));
    draft.line(w.sitting_looks(&begin.number, &page.step(begin.step), &w.list(looks)));
    page.contact_cautions(&mut draft);
    draft
}
