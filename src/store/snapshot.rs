//! The stored form of a follow-up's state, and what is kept readable beside it. The chapters of its
//! past are kept apart: the state says which they are.
//!
//! Never here: SQL.
//! Promises: a snapshot of another form, or with other chapters than its own, is never misread: it is
//! refused, and the state is then rebuilt from the journal.

use crate::follow_up::State;
use crate::follow_up::past::{Mark, Past};
use crate::follow_up::state::Standing;

/// The form that this version writes: a number worked out from the very files that say what a
/// state is, so that no change of them can be forgotten here. After such a change every state is
/// rebuilt once, when it is next loaded.
pub(super) const FORMAT: i64 = (fingerprint(&[
    include_bytes!("snapshot.rs"),
    include_bytes!("../care/amount.rs"),
    include_bytes!("../care/fitting/version.rs"),
    include_bytes!("../care/hours.rs"),
    include_bytes!("../care/person.rs"),
    include_bytes!("../care/reading.rs"),
    include_bytes!("../care/risk.rs"),
    include_bytes!("../care/site.rs"),
    include_bytes!("../follow_up/apply.rs"),
    include_bytes!("../follow_up/calendar.rs"),
    include_bytes!("../follow_up/event.rs"),
    include_bytes!("../follow_up/ids.rs"),
    include_bytes!("../follow_up/past.rs"),
    include_bytes!("../follow_up/set_back.rs"),
    include_bytes!("../follow_up/state.rs"),
    include_bytes!("../follow_up/stored.rs"),
    include_bytes!("../follow_up/terms.rs"),
]) >> 1) as i64;

/// FNV-1a over some files: enough to tell versions apart, and it can be worked out by the
/// compiler.
const fn fingerprint(files: &[&[u8]]) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut file = 0;
    while file < files.len() {
        let mut byte = 0;
        while byte < files[file].len() {
            hash = (hash ^ files[file][byte] as u64).wrapping_mul(0x0100_0000_01b3);
            byte += 1;
        }
        file += 1;
    }
    hash
}

/// The stored form of a state, without its past.
pub(super) fn encode(state: &State) -> Vec<u8> {
    postcard::to_allocvec(&(state.past().mark(), state))
        .expect("OK because every part of a state has a stored form")
}

/// The state in a stored form, where this version can read it; `chapters` gives as many kept ones of
/// its past as are asked for, oldest first, or fewer where there are fewer.
///
/// # Errors
/// When the chapters cannot be had.
pub(super) fn decode<E>(
    format: i64,
    bytes: &[u8],
    chapters: impl FnOnce(u32) -> Result<Vec<Vec<u8>>, E>,
) -> Result<Option<State>, E> {
    if format != FORMAT {
        return Ok(None);
    }
    let Ok((mark, state)) = postcard::from_bytes::<(Mark, State)>(bytes) else { return Ok(None) };
    let past = Past::read(mark, chapters(mark.chapters)?);
    Ok(past.map(|past| state.with_past(past)))
}

/// The word for a follow-up's standing.
pub(super) fn standing(state: &State) -> &'static str {
    match state.standing {
        Standing::Open => "open",
        Standing::Suspended => "suspended",
        Standing::Stopped { .. } => "stopped",
        Standing::Paused { .. } => "paused",
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
