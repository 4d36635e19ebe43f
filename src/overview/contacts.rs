//! What the clinic is told about the hours of a client's contacts.
//!
//! Never here: whose turn it is (`follow_up::shifts`).
//! Promises: nothing is said of a client whose hours leave no look to nobody.

use crate::care::Plan;
use crate::config::gaps_in_words;
use crate::follow_up::State;

/// The stretches of the week in which looks fall and nobody is on shift, each in one sentence.
pub(crate) fn hours_left_open(state: &State, plan: &Plan) -> Vec<String> {
    let terms = &state.terms;
    let Some(ladder) = plan.ladder(&terms.risk).filter(|_| !state.is_closed()) else {
        return Vec::new();
    };
    let hours = terms.contacts.iter().map(|contact| state.hours_of(contact));
    gaps_in_words(hours, ladder, &terms.sittings_at)
}
