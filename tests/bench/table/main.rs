//! The table of speed and scale: `tests/bench/run.sh` runs it and keeps what it prints.
//!
//! Arguments are names of parts (`due`, `replies`, `growth`, `size`, `running`, `simulated`); none
//! means all. `FADEWATCH_BENCH_LOOKS` is how many looks fall due at once (10000),
//! `FADEWATCH_BENCH_CLIENTS` the largest clinic (100000), `FADEWATCH_BENCH_IDLE` the
//! seconds that the program is left idle (600; of less time, the aim is held to the same share),
//! `FADEWATCH_BENCH_RUNS` how often each figure is taken (3).
//!
//! Never here: what is right; the tests say that.
//! Promises: each figure is a median, taken in this run, beside what it is compared with.

#![allow(clippy::unwrap_used, reason = "a measurement that cannot go on had better stop")]
#![allow(clippy::cast_precision_loss, reason = "counts are far below 2^52")]

mod clinic;
mod due;
mod growth;
mod replies;
mod row;
mod running;
mod simulated;
mod size;

use std::time::Duration;

use row::Row;

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() {
    let named: Vec<String> = std::env::args().skip(1).filter(|arg| !arg.starts_with('-')).collect();
    let setting = |name: &str, value: u64| {
        std::env::var(name).map_or(value, |text| text.parse().expect("a number"))
    };
    let clients = usize::try_from(setting("FADEWATCH_BENCH_CLIENTS", 100_000)).unwrap();
    let idle = Duration::from_secs(setting("FADEWATCH_BENCH_IDLE", 600));
    println!("| measure | here | beside | ratio or value | aim | met | how |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    let part = |name: &str, rows: &dyn Fn() -> Vec<Row>| {
        if named.is_empty() || named.iter().any(|wanted| wanted == name) {
            rows().iter().for_each(|row| println!("{}", row.line()));
        }
    };
    let looks = usize::try_from(setting("FADEWATCH_BENCH_LOOKS", 10_000)).unwrap();
    part("due", &|| due::rows(looks));
    part("replies", &replies::rows);
    part("growth", &|| growth::rows(clients));
    part("running", &|| running::rows(clients, idle));
    part("simulated", &simulated::rows);
    part("size", &size::rows);
}
