//! Many runs, one seed after the other, with what came of them added up.
//!
//! Never here: printing.
//! Promises: the runs of a campaign do not touch each other; a panic of the code under test is a
//! broken promise like any other.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, LazyLock, Mutex, MutexGuard, PoisonError};

use super::cast::{self, Cast};
use super::fault::{FaultCounts, Faults};
use super::trial::{Broken, Depth, Medium, Outcome, Promise, Trial};
use super::{rules, world};
use crate::notice::Languages;
use crate::reply::Lexicons;
use crate::service::Office;
use crate::service::mailing::Stationery;
use crate::service::picturing::Easel;

/// Read once for all offices: each takes as long as a simulated week.
static LANGUAGES: LazyLock<Arc<Languages>> = LazyLock::new(|| Arc::new(Languages::shipped()));
static LEXICONS: LazyLock<Arc<Lexicons>> = LazyLock::new(|| Arc::new(Lexicons::shipped()));

/// What a campaign is given.
#[derive(Clone, Debug)]
pub struct Campaign {
    /// The seeds.
    pub seeds: Range<u64>,
    /// Days with trouble in each run.
    pub days: u32,
    /// Which kinds of trouble are on.
    pub faults: Faults,
    /// Where the stores lie.
    pub medium: Medium,
    /// How much of the service takes part.
    pub depth: Depth,
    /// Threads that run seeds side by side; each run has one to itself.
    pub threads: usize,
    /// The campaign ends after so many failing seeds.
    pub failures_max: usize,
}

/// What came of a campaign.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Runs.
    pub runs: u64,
    /// Follow-ups.
    pub follow_ups: u64,
    /// Follow-up-days.
    pub follow_up_days: u64,
    /// Mails handed to mail servers.
    pub mails: u64,
    /// Replies worked through.
    pub replies: u64,
    /// Alerts raised.
    pub alerts: u64,
    /// Advances.
    pub advances: u64,
    /// How often each kind of trouble struck.
    pub faults: FaultCounts,
    /// Failing seeds with what was broken.
    pub failures: BTreeMap<u64, Broken>,
    /// The first seed that was not run: where to go on, when the campaign ended early.
    pub next_seed: u64,
}

/// How far a campaign has come.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SoFar {
    /// Runs that are done.
    pub runs: u64,
    /// Follow-up-days in them.
    pub follow_up_days: u64,
    /// Failing ones among them.
    pub failures: u64,
    /// All seeds before this one are done: where to go on, when the campaign is ended now.
    pub done_before: u64,
}

/// Which seed comes next, and which are under way.
struct Seeds {
    next: u64,
    under_way: BTreeSet<u64>,
    progress: SoFar,
}

/// One office for each size of clinic, used for one run after the other.
#[derive(Debug)]
pub struct Offices {
    by_clinicians: BTreeMap<usize, Office>,
    easel: Easel,
    stationery: Stationery,
}

impl Default for Offices {
    /// Offices whose mail is plain text, without pictures: simulated people read nothing else of it,
    /// and the rest takes longer than all that the runs are about.
    fn default() -> Self {
        let (easel, stationery) = (Easel::Nowhere, Stationery::PlainText);
        Self { by_clinicians: BTreeMap::new(), easel, stationery }
    }
}

impl Offices {
    /// Offices that compose whole mail, whose pictures are drawn somewhere.
    pub fn with_easel(easel: Easel) -> Self {
        Self { by_clinicians: BTreeMap::new(), easel, stationery: Stationery::Whole }
    }
}

impl Campaign {
    /// Runs all seeds.
    pub fn run(&self) -> Tally {
        self.run_watched(|_| {})
    }

    /// Runs all seeds, and shows after each how far it has come.
    pub fn run_watched(&self, show: impl Fn(&SoFar) + Sync) -> Tally {
        let seeds = Mutex::new(Seeds {
            next: self.seeds.start,
            under_way: BTreeSet::new(),
            progress: SoFar { done_before: self.seeds.start, ..SoFar::default() },
        });
        let tally = Mutex::new(Tally::default());
        std::thread::scope(|scope| {
            for _ in 0..self.threads.max(1) {
                scope.spawn(|| {
                    let mut offices = Offices::default();
                    let mut mine = Tally::default();
                    while let Some(seed) = self.begin(&seeds) {
                        let outcome = run_one(self.trial(seed), &mut offices, false);
                        show(&done(&seeds, seed, &outcome));
                        mine.add(seed, outcome);
                    }
                    locked(&tally).join(mine);
                });
            }
        });
        let next_seed = locked(&seeds).next;
        let tally = tally.into_inner().unwrap_or_else(PoisonError::into_inner);
        Tally { next_seed, ..tally }
    }

    /// The next seed; none when all are begun, or enough have failed.
    fn begin(&self, seeds: &Mutex<Seeds>) -> Option<u64> {
        let mut seeds = locked(seeds);
        let failed = usize::try_from(seeds.progress.failures).unwrap_or(usize::MAX);
        if seeds.next >= self.seeds.end || failed >= self.failures_max {
            return None;
        }
        let seed = seeds.next;
        seeds.next += 1;
        seeds.under_way.insert(seed);
        Some(seed)
    }

    /// The trial of a seed.
    pub fn trial(&self, seed: u64) -> Trial {
        Trial { seed, days: self.days, faults: self.faults, medium: self.medium, depth: self.depth }
    }
}

fn done(seeds: &Mutex<Seeds>, seed: u64, outcome: &Outcome) -> SoFar {
    let mut seeds = locked(seeds);
    seeds.under_way.remove(&seed);
    let done_before = seeds.under_way.first().copied().unwrap_or(seeds.next);
    seeds.progress.done_before = done_before;
    seeds.progress.runs += 1;
    seeds.progress.follow_up_days += outcome.follow_up_days;
    seeds.progress.failures += u64::from(outcome.broken.is_some());
    seeds.progress.clone()
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Tally {
    fn add(&mut self, seed: u64, outcome: Outcome) {
        self.runs += 1;
        self.follow_ups += outcome.follow_ups;
        self.follow_up_days += outcome.follow_up_days;
        self.mails += outcome.mails;
        self.replies += outcome.replies;
        self.alerts += outcome.alerts;
        self.advances += outcome.advances;
        self.faults.add(&outcome.faults);
        if let Some((_, broken)) = outcome.broken {
            self.failures.insert(seed, broken);
        }
    }

    fn join(&mut self, other: Self) {
        self.runs += other.runs;
        self.follow_ups += other.follow_ups;
        self.follow_up_days += other.follow_up_days;
        self.mails += other.mails;
        self.replies += other.replies;
        self.alerts += other.alerts;
        self.advances += other.advances;
        self.faults.add(&other.faults);
        self.failures.extend(other.failures);
    }
}

/// Runs one trial; `tells` keeps the story.
pub fn run_one(trial: Trial, offices: &mut Offices, tells: bool) -> Outcome {
    let cast = cast::draw(trial.seed);
    match trial.depth {
        Depth::Whole => caught(|| run_whole(trial, cast, offices, tells)),
        Depth::Rules => caught(|| rules::run(trial, cast, tells)),
    }
}

fn run_whole(trial: Trial, cast: Cast, offices: &mut Offices, tells: bool) -> Outcome {
    let Offices { by_clinicians, easel, stationery } = offices;
    let office = by_clinicians.entry(cast.clinic.clinicians.len()).or_insert_with(|| {
        Office::new(cast.clinic.clone(), Arc::clone(&LANGUAGES), Arc::clone(&LEXICONS))
            .expect("OK because the simulated clinic has good addresses")
            .with_easel(*easel)
            .with_stationery(*stationery)
            .with_seed(trial.seed)
    });
    world::run(trial, office, cast, tells)
}

/// What comes of a run; a panic is a broken promise.
fn caught(run: impl FnOnce() -> Outcome) -> Outcome {
    match catch_unwind(AssertUnwindSafe(run)) {
        Ok(outcome) => outcome,
        Err(panic) => {
            let said = panic
                .downcast_ref::<String>()
                .cloned()
                .or_else(|| panic.downcast_ref::<&str>().map(|text| (*text).to_owned()));
            let what = format!("a panic: {}", said.unwrap_or_default());
            let broken = Broken::new(Promise::Working, what);
            Outcome { broken: Some((chrono::DateTime::UNIX_EPOCH, broken)), ..Outcome::default() }
        }
    }
}
