//! The stored form of a follow-up's state, and what is kept readable beside it.
//!
//! Never here: SQL.
//! Promises: a snapshot of another form is never misread: it is refused, and the state is then
//! rebuilt from the journal.

use crate::follow_up::State;
use crate::follow_up::state::Standing;

/// The form that this version writes. It changes with every change of `State` that the decoder
/// would not notice by itself.
pub(super) const FORMAT: i64 = 1;

/// The stored form of a state.
pub(super) fn encode(state: &State) -> Vec<u8> {
    serde_json::to_vec(state).expect("OK because a state always prints as JSON")
}

/// The state in a stored form, where this version can read it.
pub(super) fn decode(format: i64, bytes: &[u8]) -> Option<State> {
    if format != FORMAT {
        return None;
    }
    serde_json::from_slice(bytes).ok()
}

/// The word for a follow-up's standing.
pub(super) fn standing(state: &State) -> &'static str {
    match state.standing {
        Standing::Open => "open",
        Standing::Suspended => "suspended",
        Standing::Stopped { .. } => "stopped",
        Standing::Closed => "closed",
    }
}

/// The word for a follow-up's alert.
pub(super) fn alert(state: &State) -> &'static str {
    match &state.alert {
        None => "none",
        Some(alert) if alert.acknowledged.is_some() => "acknowledged",
        Some(_) => "open",
    }
}
