//! The clock that the service goes by: the real one, or one that runs faster for the demo.
//!
//! Never here: wall-clock times of clients.
//! Promises: this is the only place that asks the machine for the time.

use std::time::{Duration, SystemTime};

use chrono::DateTime;

use crate::follow_up::Instant;

/// A clock.
#[derive(Clone, Debug)]
pub enum Clock {
    /// The machine's.
    Real,
    /// One that started at an instant of its own and runs so many times faster.
    Fast {
        /// What it showed first.
        from: Instant,
        /// When that was, by the machine's steady clock.
        since: std::time::Instant,
        /// How many of its seconds pass in one of the machine's.
        speed: f64,
    },
}

impl Clock {
    /// A clock that shows `from` now and runs `speed` times faster.
    pub fn fast(from: Instant, speed: f64) -> Self {
        Self::Fast { from, since: std::time::Instant::now(), speed }
    }

    /// The present time, in whole milliseconds.
    pub fn now(&self) -> Instant {
        match self {
            Self::Real => {
                let elapsed = SystemTime::now()
                    .duration_since(SystemTime::UNIX_EPOCH)
                    .unwrap_or(Duration::ZERO);
                let ms = i64::try_from(elapsed.as_millis()).unwrap_or(i64::MAX);
                DateTime::from_timestamp_millis(ms).unwrap_or(DateTime::UNIX_EPOCH)
            }
            Self::Fast { from, since, speed } => {
                let elapsed = since.elapsed().mul_f64(*speed);
                let ms = i64::try_from(elapsed.as_millis()).unwrap_or(i64::MAX);
                *from + chrono::TimeDelta::milliseconds(ms)
            }
        }
    }

    /// Waits until the clock shows an instant; returns at once when it does already.
    ///
    /// Sleeps are cut to a quarter of an hour of real time, so that a machine's clock that was
    /// set forward, or a machine that slept, is noticed then at the latest.
    pub async fn sleep_until(&self, at: Instant) {
        const LONGEST: Duration = Duration::from_secs(15 * 60);
        let left = (at - self.now()).to_std().unwrap_or(Duration::ZERO);
        let real = match self {
            Self::Real => left,
            Self::Fast { speed, .. } => left.div_f64(*speed),
        };
        tokio::time::sleep(real.min(LONGEST)).await;
    }
}
