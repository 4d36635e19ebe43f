//! States that were worked with lately, so that the next act on the same follow-up need not read its
//! whole state again: a reply is read by the state and then acted on, and what is due is often due
//! in a row.
//!
//! Never here: rows (`store`), what a state means.
//! Promises: a state is given out only for the very end of the journal that it was laid down for. The
//! hash at that end covers all that made the state, so an act that was taken back, a killed process
//! or another process's command leads to a state that is read anew, never to a stale one.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use crate::follow_up::State;
use crate::store::{FollowUpId, Head};

/// States kept: more than one act touches, and a few hundred kilobytes at most.
const KEPT_MAX: usize = 16;

/// The states at hand.
#[derive(Debug, Default)]
pub struct StatesAtHand {
    /// The longest kept first.
    kept: Mutex<VecDeque<Kept>>,
}

#[derive(Debug)]
struct Kept {
    follow_up: FollowUpId,
    at: Head,
    state: Arc<State>,
}

impl StatesAtHand {
    /// The state of a follow-up whose journal ends here, where it is at hand; it is so no longer then.
    pub fn take(&self, follow_up: FollowUpId, at: &Head) -> Option<State> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let place = kept.iter().position(|kept| kept.follow_up == follow_up)?;
        let found = kept.remove(place).filter(|kept| kept.at == *at)?;
        drop(kept);
        Some(Arc::unwrap_or_clone(found.state))
    }

    /// Lays the state of a follow-up down, as it is where its journal ends.
    pub fn lay_down(&self, follow_up: FollowUpId, at: Head, state: Arc<State>) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|kept| kept.follow_up != follow_up);
        if kept.len() >= KEPT_MAX {
            kept.pop_front();
        }
        kept.push_back(Kept { follow_up, at, state });
    }

    /// Forgets them all.
    pub fn clear(&self) {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }
}
