//! From a failing run to the shortest one that still breaks the same promise.
//!
//! Never here: printing.
//! Promises: what is returned was run and failed.

use super::campaign::{Offices, run_one};
use super::fault::Faults;
use super::trial::{Broken, Outcome, Trial};
use crate::follow_up::Instant;

/// A failing run made small.
#[derive(Clone, Debug)]
pub struct Shrunk {
    /// What it is given.
    pub trial: Trial,
    /// What is broken, and when.
    pub broken: (Instant, Broken),
    /// What happened.
    pub story: Vec<String>,
}

/// Makes a failing trial small: kinds of trouble are taken away, then days. None where the trial
/// does not fail.
pub fn shrink(trial: Trial) -> Option<Shrunk> {
    let mut offices = Offices::default();
    let promise = run_one(trial, &mut offices, false).broken?.1.promise;
    let mut fails = |trial: Trial| {
        run_one(trial, &mut offices, false).broken.is_some_and(|(_, b)| b.promise == promise)
    };
    let mut small = trial;
    if fails(Trial { faults: Faults::NONE, ..small }) {
        small.faults = Faults::NONE;
    }
    for fault in small.faults.list() {
        let fewer = Trial { faults: small.faults.without(fault), ..small };
        if fails(fewer) {
            small = fewer;
        }
    }
    for days in [1, 2, 3, 5, 8, 12, 18, 25] {
        let shorter = Trial { days, ..small };
        if days < small.days && fails(shorter) {
            small = shorter;
            break;
        }
    }
    let Outcome { broken, story, .. } = run_one(small, &mut offices, true);
    Some(Shrunk { trial: small, broken: broken?, story })
}
