//! The facts that a clinician decides on, in one order for alerts and for what is told: pictures, the
//! last sittings, the fitting, what to examine first.
//!
//! Never here: what happened, answers.
//! Promises: a part that is not known is left out with its heading.

use super::draft::{Block, Draft};
use super::page::Page;
use super::sittings_table;

/// Adds the facts.
pub(super) fn facts(page: &Page<'_>, draft: &mut Draft) {
    let (w, backdrop) = (page.w, page.scene.backdrop);
    page.pictures(draft);
    draft.heading(w.alert_sittings());
    match sittings_table::last_sittings(page) {
        Some(table) => draft.push(table),
        None => draft.line(w.alert_no_sittings()),
    }
    if !backdrop.fitting.is_empty() {
        draft.heading(w.alert_fitting());
        draft.push(Block::Unordered(backdrop.fitting.clone()));
    }
    if !backdrop.guide.is_empty() {
        draft.heading(w.alert_guide());
        draft.push(Block::Ordered(backdrop.guide.clone()));
        draft.small(w.alert_guide_note());
    }
}
