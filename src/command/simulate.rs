//! `fadewatch simulate`: the service, or its rules alone, under a virtual clock, against simulated
//! people, mail servers and faults.
//!
//! Never here: the simulation itself.
//! Promises: a failing seed is shown as its shortest story, with the command that replays it; the
//! exit status tells whether a promise was broken; on a terminal a long campaign shows how far it is.

use std::collections::BTreeMap;
use std::ops::Range;
use std::process::ExitCode;
use std::time::Instant;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::paper;
use super::progress::Progress;
use super::setting::CommandError;
use crate::rehearsal::simulation::{
    Campaign, Depth, Fault, Faults, Medium, Shrunk, SoFar, Tally, Trial, shrink,
};

/// Failing seeds after which a campaign ends.
const FAILURES_MAX: usize = 5;
/// Lines of a story that are shown: its end, where the promise breaks.
const STORY_LINES: usize = 60;

/// Run the service, or its rules alone, under a virtual clock with invented people and faults, and
/// hold its promises against what they said and saw.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch simulate --seeds 0..300 --days 30 --jobs 2\n  \
    fadewatch simulate --seeds 17..18 --whole-story\n  \
    fadewatch simulate --depth rules --seeds 0..100000 --jobs 2")]
pub(super) struct SimulateArgs {
    /// The seeds, first and past the last
    #[arg(long, value_name = "A..B", value_parser = seeds, default_value = "0..100")]
    seeds: Range<u64>,

    /// Days with trouble in each run; two calm days follow
    #[arg(long, value_name = "N", default_value_t = 30)]
    days: u32,

    /// Kinds of trouble: all, none, or a list
    #[arg(long, default_value = "all")]
    faults: Faults,

    /// How much takes part: `whole`, the service with its store and mail; `rules`, the rules alone,
    /// with people who answer in readings, which goes through many more days in the same time
    #[arg(long, value_name = "whole|rules", default_value = "whole")]
    depth: Depth,

    /// Keep each run's database in a file instead of in memory; at the whole depth
    #[arg(long)]
    on_disk: bool,

    /// Runs side by side
    #[arg(long, default_value_t = 1)]
    jobs: usize,

    /// End after so many failing seeds
    #[arg(long, value_name = "N", default_value_t = FAILURES_MAX)]
    failures: usize,

    /// Do not look for the shortest story of a failing seed
    #[arg(long)]
    no_story: bool,

    /// Show the whole story of the first failing seed
    #[arg(long)]
    whole_story: bool,

    /// Print JSON: the counts, and what was broken by which seed; no stories
    #[arg(long, conflicts_with = "whole_story")]
    json: bool,
}

#[derive(Serialize)]
struct TallyJson {
    runs: u64,
    follow_ups: u64,
    follow_up_days: u64,
    mails: u64,
    replies: u64,
    alerts: u64,
    advances: u64,
    seconds: f64,
    faults: BTreeMap<&'static str, u64>,
    broken: Vec<BrokenJson>,
}

#[derive(Serialize)]
struct BrokenJson {
    seed: u64,
    promise: &'static str,
    what: String,
}

impl TallyJson {
    fn of(tally: &Tally, seconds: f64) -> Self {
        let broken = tally.failures.iter().map(|(seed, broken)| BrokenJson {
            seed: *seed,
            promise: broken.promise.text(),
            what: broken.what.clone(),
        });
        Self {
            runs: tally.runs,
            follow_ups: tally.follow_ups,
            follow_up_days: tally.follow_up_days,
            mails: tally.mails,
            replies: tally.replies,
            alerts: tally.alerts,
            advances: tally.advances,
            seconds,
            faults: Fault::ALL.map(|fault| (fault.name(), tally.faults.of(fault))).into(),
            broken: broken.collect(),
        }
    }
}

impl SimulateArgs {
    /// Runs the campaign.
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let medium = if self.on_disk { Medium::Disk } else { Medium::Memory };
        let campaign = Campaign {
            seeds: self.seeds.clone(),
            days: self.days,
            faults: self.faults,
            medium,
            depth: self.depth,
            threads: self.jobs,
            failures_max: self.failures,
        };
        let began = Instant::now();
        let bar = Progress::of_parts("simulating", self.seeds.end.saturating_sub(self.seeds.start));
        let tally = campaign.run_watched(|so_far| {
            bar.part_done();
            bar.say(self.so_far(so_far, began));
        });
        drop(bar);
        if self.json {
            paper::print_json(&TallyJson::of(&tally, began.elapsed().as_secs_f64()))?;
            return Ok(if tally.failures.is_empty() { Exit::Done } else { Exit::Unwell }.into());
        }
        print_tally(&tally, began.elapsed().as_secs_f64());
        if tally.next_seed < self.seeds.end {
            println!(
                "ended after {} failing seeds; to go on: fadewatch simulate --seeds {}..{} --days {} \
                 --faults {}{}",
                tally.failures.len(),
                tally.next_seed,
                self.seeds.end,
                self.days,
                self.faults,
                rest(campaign.trial(self.seeds.start))
            );
        }
        let Some(seed) = tally.failures.keys().next().copied() else {
            return Ok(Exit::Done.into());
        };
        for (seed, broken) in &tally.failures {
            println!("seed {seed}: {}: {}", broken.promise.text(), broken.what);
        }
        if !self.no_story
            && let Some(shrunk) = {
                let _progress = Progress::of("looking for the shortest story");
                shrink(campaign.trial(seed))
            }
        {
            self.print_story(&shrunk);
        }
        Ok(Exit::Unwell.into())
    }

    fn print_story(&self, shrunk: &Shrunk) {
        let Shrunk { trial, broken: (at, broken), story } = shrunk;
        println!("\nThe shortest story of seed {}:", trial.seed);
        let shown = if self.whole_story { story.len() } else { STORY_LINES };
        let left_out = story.len().saturating_sub(shown);
        if left_out > 0 {
            println!("  ({left_out} lines before; --whole-story shows them)");
        }
        story.iter().skip(left_out).for_each(|line| println!("  {line}"));
        println!("\n{at}: {} is broken: {}", broken.promise.text(), broken.what);
        println!(
            "replay: fadewatch simulate --seeds {}..{} --days {} --faults {}{}",
            trial.seed,
            trial.seed + 1,
            trial.days,
            trial.faults,
            rest(*trial)
        );
    }

    /// How far it is, and where to go on if it is ended now.
    fn so_far(&self, so_far: &SoFar, began: Instant) -> String {
        format!(
            "({:.0} follow-up-days a second, {} broken promises; to go on later: --seeds {}..{})",
            pace(so_far.follow_up_days, began.elapsed().as_secs_f64()),
            so_far.failures,
            so_far.done_before,
            self.seeds.end
        )
    }
}

/// The options of a trial that are seldom other than they are by default.
fn rest(trial: Trial) -> &'static str {
    match (trial.depth, trial.medium) {
        (Depth::Rules, _) => " --depth rules",
        (Depth::Whole, Medium::Disk) => " --on-disk",
        (Depth::Whole, Medium::Memory) => "",
    }
}

#[allow(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
fn pace(follow_up_days: u64, seconds: f64) -> f64 {
    follow_up_days as f64 / seconds.max(0.001)
}

fn print_tally(tally: &Tally, seconds: f64) {
    for fault in Fault::ALL {
        println!("{:>10}  {}", tally.faults.of(fault), fault.name());
    }
    let pace = pace(tally.follow_up_days, seconds);
    println!(
        "{} runs, {} follow-ups, {} follow-up-days ({pace:.0} a second), {} mails, {} replies, {} \
         alerts, {} advances, {} broken promises",
        tally.runs,
        tally.follow_ups,
        tally.follow_up_days,
        tally.mails,
        tally.replies,
        tally.alerts,
        tally.advances,
        tally.failures.len()
    );
}

fn seeds(text: &str) -> Result<Range<u64>, String> {
    let refused = || format!("`{text}` is no range of seeds; write it as 0..100");
    let (first, past) = text.split_once("..").ok_or_else(refused)?;
    let parsed = |part: &str| part.trim().parse::<u64>().map_err(|_| refused());
    let range = parsed(first)?..parsed(past)?;
    if range.is_empty() { Err(refused()) } else { Ok(range) }
}
