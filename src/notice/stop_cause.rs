//! Why sitting stands stopped, worked out from the state where the journal entry is not at hand.
//!
//! Never here: deciding on a stop. Promises: where the state does not tell, nothing is made up.

use crate::care::{Finding, Site};
use crate::follow_up::State;
use crate::follow_up::event::{LookKind, StopReason, WithdrawReason};
use crate::follow_up::state::{Look, LookStatus, Standing};

/// Why sitting is stopped and where the sign is; none where it is not stopped, or the reason is
/// not among the looks (a clinician's word).
pub fn stop_cause(state: &State) -> Option<(StopReason, &[Site])> {
    let Standing::Stopped { since, .. } = state.standing else { return None };
    let found_then = |look: &&Look| {
        let found = look.found.as_ref();
        found.is_some_and(|found| found.said_at == since && found.finding > Finding::Clear)
    };
    if let Some(look) = state.looks().filter(found_then).max_by_key(|look| look.finding()) {
        let is_alarming = look.finding() == Some(Finding::Alarming);
        let why = if is_alarming { StopReason::Alarming } else { StopReason::Persisting };
        return Some((why, sites(state, look)));
    }
    let stop = LookStatus::Withdrawn { why: WithdrawReason::Stop };
    let unreported = state.looks().find(|look| {
        look.kind == LookKind::Recheck
            && look.status == stop
            && look.settled_at == Some(since)
            && look.clock.as_ref().is_some_and(|clock| clock.over_at <= since)
    })?;
    Some((StopReason::RecheckUnreported, sites(state, unreported)))
}

/// The sites named at a look, else those of the mark that it looks at again (R21).
fn sites<'a>(state: &'a State, look: &'a Look) -> &'a [Site] {
    let named = look.found.as_ref().map_or(&[][..], |found| &found.sites);
    let of = || look.of.map_or(&[][..], |of| &state.look(of).mark_sites);
    match (named, look.mark_sites.as_slice()) {
        ([], []) => of(),
        ([], earlier) => earlier,
        (named, _) => named,
    }
}
