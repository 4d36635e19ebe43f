//! The service under a virtual clock at both depths, a few seeds of it. The command
//! `fadewatch simulate --seeds 0..2000 --days 30` runs many; a release build makes it quick.
//!
//! Never here: the simulation itself (`src/rehearsal/simulation`).

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

use std::sync::Mutex;

use fadewatch::rehearsal::simulation::{
    Campaign, Depth, Fault, Faults, Medium, Offices, SoFar, Tally, Trial, run_one,
};
use fadewatch::service::picturing::Easel;

fn campaign(seeds: std::ops::Range<u64>, days: u32, faults: Faults, medium: Medium) -> Tally {
    let depth = Depth::Whole;
    Campaign { seeds, days, faults, medium, depth, threads: 2, failures_max: 3 }.run()
}

fn no_promise_is_broken(tally: &Tally) {
    assert!(tally.failures.is_empty(), "{:#?}", tally.failures);
    assert!(tally.follow_up_days > 0 && tally.mails > 0 && tally.replies > 0);
}

#[test]
fn without_trouble_no_promise_is_broken() {
    no_promise_is_broken(&campaign(0..6, 10, Faults::NONE, Medium::Memory));
}

#[test]
fn with_all_kinds_of_trouble_no_promise_is_broken() {
    let tally = campaign(0..24, 8, Faults::all(), Medium::Memory);
    no_promise_is_broken(&tally);
    let struck = Fault::ALL.into_iter().filter(|fault| tally.faults.of(*fault) > 0).count();
    assert!(struck > 25, "only {struck} kinds of trouble struck");
}

#[test]
fn on_a_real_disk_no_promise_is_broken_by_crashes() {
    let faults = "crash-before-commit,crash-after-commit,crash-after-send,disk-full";
    no_promise_is_broken(&campaign(100..104, 4, faults.parse().unwrap(), Medium::Disk));
}

/// In this seed the clock is set back by hours while an alert waits and nothing else is due.
#[test]
fn an_alert_that_waits_alone_is_not_late_when_the_clock_is_set_back() {
    let tally = campaign(384..385, 30, "clock-back".parse().unwrap(), Medium::Memory);
    no_promise_is_broken(&tally);
    assert!(tally.faults.of(Fault::ClockBack) > 0 && tally.alerts > 0, "{tally:?}");
}

#[test]
fn pictures_that_are_drawn_beside_the_writer_change_nothing_but_the_mail() {
    // No trouble: its dice fall otherwise where an act takes two transactions.
    let outcome = |seed, mut offices: Offices| {
        let trial = Trial {
            seed,
            days: 6,
            faults: Faults::NONE,
            medium: Medium::Memory,
            depth: Depth::Whole,
        };
        let outcome = run_one(trial, &mut offices, false);
        assert!(outcome.broken.is_none(), "seed {seed}: {:?}", outcome.broken);
        (outcome.mails, outcome.replies, outcome.alerts, outcome.advances)
    };
    let mut alerts = 0;
    for seed in 0..6 {
        let without = outcome(seed, Offices::with_easel(Easel::Nowhere));
        alerts += without.2;
        let drawn = [Easel::Beside, Easel::InTheAct].map(Offices::with_easel);
        // Nor does mail of plain text alone, which is what campaigns send.
        for offices in drawn.into_iter().chain([Offices::default()]) {
            assert_eq!(outcome(seed, offices), without, "seed {seed}");
        }
    }
    assert!(alerts > 0, "nothing in these runs calls for a picture");
}

#[test]
fn with_trouble_and_pictures_beside_the_writer_no_promise_is_broken() {
    for seed in 0..4 {
        let trial = Trial {
            seed,
            days: 6,
            faults: Faults::all(),
            medium: Medium::Memory,
            depth: Depth::Whole,
        };
        let outcome = run_one(trial, &mut Offices::with_easel(Easel::Beside), false);
        assert!(outcome.broken.is_none(), "seed {seed}: {:?}", outcome.broken);
    }
}

#[test]
fn by_the_rules_alone_no_promise_is_broken_in_a_month_of_all_kinds_of_trouble() {
    let campaign = Campaign {
        seeds: 0..60,
        days: 30,
        faults: Faults::all(),
        medium: Medium::Memory,
        depth: Depth::Rules,
        threads: 2,
        failures_max: 3,
    };
    let tally = campaign.run();
    no_promise_is_broken(&tally);
    assert!(tally.alerts > 0 && tally.advances > 0, "{tally:?}");
    let struck = Fault::ALL.into_iter().filter(|fault| tally.faults.of(*fault) > 0).count();
    assert!(struck > 20, "only {struck} kinds of trouble struck");
}

#[test]
fn by_the_rules_alone_the_same_seed_tells_the_same_story() {
    let (faults, medium, depth) = (Faults::all(), Medium::Memory, Depth::Rules);
    let trial = Trial { seed: 5, days: 20, faults, medium, depth };
    let story = || run_one(trial, &mut Offices::default(), true).story;
    let first = story();
    assert!(first.len() > 100);
    assert_eq!(first, story());
}

#[test]
fn the_same_seed_tells_the_same_story() {
    let trial = Trial {
        seed: 5,
        days: 4,
        faults: Faults::all(),
        medium: Medium::Memory,
        depth: Depth::Whole,
    };
    let story = || run_one(trial, &mut Offices::default(), true).story;
    let first = story();
    assert!(first.len() > 20);
    assert_eq!(first, story());
}

#[test]
fn a_campaign_says_how_far_it_is_and_where_to_go_on() {
    let (faults, medium, depth) = (Faults::NONE, Medium::Memory, Depth::Whole);
    let campaign =
        Campaign { seeds: 3..8, days: 1, faults, medium, depth, threads: 2, failures_max: 3 };
    let shown = Mutex::new(Vec::<SoFar>::new());
    let tally = campaign.run_watched(|progress| shown.lock().unwrap().push(progress.clone()));
    assert_eq!((tally.runs, tally.next_seed), (5, 8));
    let mut shown = shown.into_inner().unwrap();
    shown.sort_by_key(|progress| progress.runs);
    let runs: Vec<u64> = shown.iter().map(|progress| progress.runs).collect();
    assert_eq!(runs, [1, 2, 3, 4, 5]);
    assert!(shown.iter().all(|progress| (3..=8).contains(&progress.done_before)), "{shown:?}");
    assert_eq!(shown[4].done_before, 8);
    assert_eq!(shown[4].follow_up_days, tally.follow_up_days);
}

#[test]
fn a_campaign_that_has_seen_enough_failures_ends_and_says_where_to_go_on() {
    let (faults, medium, depth) = (Faults::NONE, Medium::Memory, Depth::Whole);
    let campaign =
        Campaign { seeds: 0..9, days: 1, faults, medium, depth, threads: 1, failures_max: 0 };
    let tally = campaign.run();
    assert_eq!((tally.runs, tally.next_seed), (0, 0));
}
