//! How follow-ups stand and what their journals tell, in the staff's words: what the command line
//! and the board both show.
//!
//! Never here: printing, pages, changing anything; mail to people (`notice`).
//! Promises: both show the same facts in the same words; what is stopped is never shown as going on.

pub(crate) mod contacts;
pub(crate) mod health;
pub(crate) mod journal_lines;
pub(crate) mod moments;
pub(crate) mod standing;
pub(crate) mod telling;

use crate::store::{Listed, StoreError, View};

/// Follow-ups read at once from the list.
const PAGE: u32 = 1000;

/// All follow-ups, in the order of enrolment.
pub(crate) fn all(view: &View<'_>) -> Result<Vec<Listed>, StoreError> {
    let mut all: Vec<Listed> = Vec::new();
    loop {
        let page = view.follow_ups(all.last().map(|listed| listed.follow_up), PAGE)?;
        let is_last = page.len() < PAGE as usize;
        all.extend(page);
        if is_last {
            return Ok(all);
        }
    }
}
