//! How long one input may take.
//!
//! Promises: an input over its budget is a crash, kept by the fuzzer like any other.

use std::time::Duration;

use cpu_time::ThreadTime;

/// Most processor time for one input of up to 64 KiB, uninstrumented.
const LONGEST: Duration = Duration::from_millis(50);

/// What counting the coverage and checking for overflow costs on top, measured: about threefold.
const INSTRUMENTED: u32 = 3;

/// Does the work, and panics where it took too long.
pub fn within_budget(work: impl FnOnce()) {
    let begun = ThreadTime::now();
    work();
    let took = begun.elapsed();
    assert!(took <= LONGEST * INSTRUMENTED, "one input took {} ms", took.as_millis());
}
