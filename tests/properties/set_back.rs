//! What holds when the machine's clock is set back at any moment of any follow-up.
//!
//! Never here: how it is noticed.

use std::collections::BTreeMap;

use chrono::TimeDelta;
use fadewatch::care::{ClinicianId, Plan};
use fadewatch::follow_up::event::{AlertSending, LookKind, RequestClock};
use fadewatch::follow_up::{Basis, Entry, Event, LookId, Noticed, Occasion, State, Terms};
use proptest::prelude::*;

use super::{Happening, happenings, plans, terms};

/// An entry with the minutes that had truly passed by then.
type Timed = (i64, Entry);

/// Runs a follow-up while its clock is set back at a minute of the run by some minutes.
fn run_set_back(
    plan: &Plan,
    terms: &Terms,
    happenings: &[Happening],
    (days, step_at, by): (i64, i64, i64),
) -> (Vec<Timed>, State) {
    let cover = [ClinicianId::new("duty").unwrap(), ClinicianId::new("ward").unwrap()];
    let basis = Basis { plan, cover: &cover };
    let from = terms.zone.midnight(terms.begins);
    let shows = |minute: i64| {
        from + TimeDelta::minutes(if minute < step_at { minute } else { minute - by })
    };
    let mut state = State::new(terms.clone(), from);
    let enrolled = Event::Enrolled { terms: Box::new(terms.clone()), from };
    let mut journal = vec![(0, Entry { at: from, event: enrolled })];
    let mut at = 0;
    let mut coming = happenings
        .iter()
        .map(|happening| {
            at += happening.after_minutes;
            (at, &happening.occasion)
        })
        .peekable();
    for minute in 0..days * 24 * 60 {
        let now = shows(minute);
        let mut take = |occasion: &Occasion| {
            let entries = state.advance(basis, occasion, now);
            journal.extend(entries.into_iter().map(|entry| (minute, entry)));
        };
        if minute == step_at {
            let instead_of = now + TimeDelta::minutes(by);
            take(&Occasion::ClockSetBack { instead_of, noticed: Noticed::AtOnce });
        }
        while let Some((_, occasion)) = coming.next_if(|(at, _)| *at <= minute) {
            take(occasion);
        }
        take(&Occasion::Clock);
    }
    (journal, state)
}

/// How long each request of a look waited at most for what has to follow, in true minutes.
fn longest_waits(journal: &[Timed], plan: &Plan, end: i64) -> Result<(), TestCaseError> {
    let mut open: BTreeMap<LookId, (i64, i64)> = BTreeMap::new();
    let mut alert: Option<i64> = None;
    let repeat = i64::from(plan.stop.repeat_alert.count());
    for (minute, entry) in journal {
        let in_time = |since: i64, limit: i64| {
            prop_assert!(minute - since <= limit, "{:?} came after {}", entry, minute - since);
            Ok(())
        };
        match &entry.event {
            Event::Asked { look, kind, clock: RequestClock::First { .. }, .. } => {
                let limit = match kind {
                    LookKind::Recheck => plan.looks.recheck_within,
                    LookKind::First | LookKind::Routine => plan.looks.tell_clinic_after,
                };
                open.insert(*look, (*minute, i64::from(limit.count())));
            }
            Event::Missed { look, .. }
            | Event::Found { look, .. }
            | Event::LookWithdrawn { look, .. } => {
                if let Some((since, limit)) = open.remove(look) {
                    in_time(since, limit)?;
                }
            }
            Event::Stopped { .. } => {
                for (since, limit) in std::mem::take(&mut open).into_values() {
                    in_time(since, limit)?;
                }
            }
            Event::Alerted { sending, .. } => {
                if let Some(since) = alert {
                    in_time(since, repeat)?;
                }
                if *sending != AlertSending::BroughtBack {
                    alert = Some(*minute);
                }
            }
            Event::Acknowledged { .. } | Event::Resumed { .. } | Event::KeptStopped { .. } => {
                alert = None;
            }
            _ => {}
        }
    }
    for (since, limit) in open.into_values().chain(alert.map(|since| (since, repeat))) {
        prop_assert!(end - since <= limit, "waits since {since}, {limit} min allowed, at {end}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn a_clock_that_is_set_back_makes_no_alert_and_no_look_wait_longer(
        plan in plans(),
        terms in terms(),
        happenings in happenings(),
        step_at in 1_i64..4000,
        by in 3_i64..600,
    ) {
        let (journal, state) = run_set_back(&plan, &terms, &happenings, (4, step_at, by));
        longest_waits(&journal, &plan, 4 * 24 * 60)?;
        let entries = journal.iter().map(|(_, entry)| entry);
        let folded = entries.clone().fold(None, |state, entry| Some(State::fold(state, entry)));
        prop_assert_eq!(folded, Some(state));
        let slots: Vec<_> = entries
            .filter_map(|entry| match &entry.event {
                Event::Sitting { slot, .. } | Event::Dropped { slot, .. } => Some(*slot),
                _ => None,
            })
            .collect();
        let mut once = slots.clone();
        once.sort_unstable();
        once.dedup();
        prop_assert_eq!(once.len(), slots.len(), "a planned sitting came twice");
    }
}
