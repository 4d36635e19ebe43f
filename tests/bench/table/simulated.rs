//! Simulated follow-up-days in a second of one core, in memory: of the whole service, and of the
//! rules alone.
//!
//! Never here: the simulation.
//! Promises: all kinds of trouble are on, and no promise is broken.

use std::time::Instant;

use fadewatch::rehearsal::simulation::{Campaign, Depth, Faults, Medium};

use super::row::{Aim, Row, median, runs};

const DAYS: u32 = 30;

pub fn rows() -> Vec<Row> {
    let whole = "simulated follow-up-days a second, one core";
    let rules = "simulated follow-up-days a second, the rules alone, one core";
    vec![row(whole, Depth::Whole, 40), row(rules, Depth::Rules, 1500)]
}

fn row(measure: &str, depth: Depth, seeds: u64) -> Row {
    let paces: Vec<f64> = (0..runs())
        .map(|_| {
            let campaign = Campaign {
                seeds: 0..seeds,
                days: DAYS,
                faults: Faults::all(),
                medium: Medium::Memory,
                depth,
                threads: 1,
                failures_max: 1,
            };
            let begun = Instant::now();
            let tally = campaign.run();
            assert!(tally.failures.is_empty(), "{:#?}", tally.failures);
            tally.follow_up_days as f64 / begun.elapsed().as_secs_f64()
        })
        .collect();
    let pace = median(paces);
    Row {
        measure: measure.to_owned(),
        ours: format!("{pace:.0}/s"),
        beside: "20000/s".to_owned(),
        ratio: Some(pace / 20_000.0),
        aim: Aim::AtLeast(1.0),
        note: format!("{seeds} seeds × {DAYS} days, all kinds of trouble"),
    }
}
