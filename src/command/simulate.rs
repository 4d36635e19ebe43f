//! `fadewatch simulate`: the whole service under a virtual clock, against simulated people, mail
//! servers and faults.
//!
//! Never here: the simulation itself.
//! Promises: a failing seed is shown as its shortest story, with the command that replays it; the
//! exit status tells whether a promise was broken; on a terminal a long campaign shows how far it is.

use std::io::{self, IsTerminal, Write};
use std::ops::Range;
use std::process::ExitCode;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use clap::Args;

use crate::rehearsal::simulation::{
    Campaign, Fault, Faults, Medium, Progress, Shrunk, Tally, shrink,
};

/// Failing seeds after which a campaign ends.
const FAILURES_MAX: usize = 5;
/// Lines of a story that are shown: its end, where the promise breaks.
const STORY_LINES: usize = 60;
/// Between two looks at how far it is.
const SHOWN_EVERY: Duration = Duration::from_secs(1);

/// Run the service under a virtual clock with invented people and faults, and hold its promises
/// against what they said and saw.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch simulate --seeds 0..300 --days 30 --jobs 2\n  \
    fadewatch simulate --seeds 17..18 --whole-story")]
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

    /// Keep each run's database in a file instead of in memory
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
}

impl SimulateArgs {
    /// Runs the campaign.
    pub(super) fn run(&self) -> ExitCode {
        let medium = if self.on_disk { Medium::Disk } else { Medium::Memory };
        let campaign = Campaign {
            seeds: self.seeds.clone(),
            days: self.days,
            faults: self.faults,
            medium,
            threads: self.jobs,
            failures_max: self.failures,
        };
        let began = Instant::now();
        let tally = if io::stderr().is_terminal() {
            let shown = Mutex::new(began);
            let tally = campaign.run_watched(|progress| self.show(progress, began, &shown));
            // The line is cleared for what follows.
            eprint!("\r\x1b[K");
            tally
        } else {
            campaign.run()
        };
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
                on_disk(medium)
            );
        }
        let Some(seed) = tally.failures.keys().next().copied() else { return ExitCode::SUCCESS };
        for (seed, broken) in &tally.failures {
            println!("seed {seed}: {}: {}", broken.promise.text(), broken.what);
        }
        if !self.no_story
            && let Some(shrunk) = shrink(campaign.trial(seed))
        {
            self.print_story(&shrunk);
        }
        ExitCode::FAILURE
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
            on_disk(trial.medium)
        );
    }

    /// Shows how far it is on one line, and where to go on if it is ended now.
    fn show(&self, progress: &Progress, began: Instant, shown: &Mutex<Instant>) {
        let Ok(mut shown) = shown.try_lock() else { return };
        if shown.elapsed() < SHOWN_EVERY {
            return;
        }
        *shown = Instant::now();
        let Progress { runs, follow_up_days, failures, done_before } = progress;
        let line = format!(
            "{runs} of {} runs, {:.0} follow-up-days a second, {failures} broken promises; to go on \
             later: --seeds {done_before}..{}",
            self.seeds.end - self.seeds.start,
            pace(*follow_up_days, began.elapsed().as_secs_f64()),
            self.seeds.end
        );
        let mut terminal = io::stderr().lock();
        // Nothing hangs on it.
        let _ = write!(terminal, "\r\x1b[K{line}").and_then(|()| terminal.flush());
    }
}

fn on_disk(medium: Medium) -> &'static str {
    if medium == Medium::Disk { " --on-disk" } else { "" }
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
