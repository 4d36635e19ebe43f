//! How long to wait before trying a failing server again.
//!
//! Never here: sleeping, clocks, randomness.
//! Promises: waits grow from the first one to about five minutes and stay there; the spread
//! depends only on the count.

use std::time::Duration;

/// The longest wait, before the spread.
const LONGEST: Duration = Duration::from_secs(300);

/// The wait after so many failures in a row (from 1): the first one doubled each time, spread by a
/// quarter to either side, so that several services do not come back in step.
pub(super) fn pause(first: Duration, failures: u32) -> Duration {
    let doubled = 2u32.saturating_pow(failures.saturating_sub(1).min(16));
    let plain = first.saturating_mul(doubled).min(LONGEST);
    // Knuth's multiplicative hash: neighbouring counts land far apart.
    let spread = failures.wrapping_mul(2_654_435_761) >> 24;
    plain * (192 + spread / 2) / 256
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_grow_from_a_second_to_five_minutes_and_stay() {
        let seconds = |n| pause(Duration::from_secs(1), n).as_secs_f32();
        assert!((0.75..=1.25).contains(&seconds(1)));
        assert!((6.0..=10.0).contains(&seconds(4)));
        for failures in 10..10_000 {
            assert!((225.0..=375.0).contains(&seconds(failures)), "{failures}");
        }
    }
}
