//! The clock that the service goes by: the real one, or one that is set by hand for the demo.
//!
//! Never here: wall-clock times of clients.
//! Promises: this is the only place that asks the machine for the time; no clock goes back.

use std::sync::Arc;
use std::time::{Duration, SystemTime};

use chrono::DateTime;
use tokio::sync::watch;

use crate::follow_up::Instant;

/// A clock.
#[derive(Clone, Debug)]
pub enum Clock {
    /// The machine's.
    Real,
    /// One that stands still until somebody sets it forward. However busy the machine is, nothing
    /// that goes by it is ever late.
    Stepped(SteppedClock),
}

/// A clock that is set forward by hand; clones are the same clock.
#[derive(Clone, Debug)]
pub struct SteppedClock {
    shown: Arc<watch::Sender<Instant>>,
}

impl SteppedClock {
    /// A clock that shows `from` until it is set forward.
    pub fn new(from: Instant) -> Self {
        Self { shown: Arc::new(watch::Sender::new(from)) }
    }

    /// What the clock shows.
    pub fn now(&self) -> Instant {
        *self.shown.borrow()
    }

    /// Sets the clock forward, and wakes everybody who waits for what it then shows. An instant
    /// that lies behind changes nothing.
    pub fn step_to(&self, at: Instant) {
        self.shown.send_if_modified(|shown| {
            let forward = at > *shown;
            *shown = at.max(*shown);
            forward
        });
    }

    async fn shows(&self, at: Instant) {
        let mut shown = self.shown.subscribe();
        // It only fails once every clone is gone, and `self` is one.
        let _ = shown.wait_for(|shown| *shown >= at).await;
    }
}

impl Clock {
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
            Self::Stepped(clock) => clock.now(),
        }
    }

    /// When a mail came that is met now, by what a mail server or a disk says of it; never in the
    /// future. Those go by the machine's time, which means nothing to any other clock.
    pub fn arrival(&self, told: Option<Instant>) -> Instant {
        let now = self.now();
        match self {
            Self::Real => told.map_or(now, |told| told.min(now)),
            Self::Stepped(_) => now,
        }
    }

    /// Waits until the clock shows an instant; returns at once when it does already.
    ///
    /// Sleeps are cut to a quarter of an hour of real time, so that a machine's clock that was
    /// set forward, or a machine that slept, is noticed then at the latest.
    pub async fn sleep_until(&self, at: Instant) {
        const LONGEST: Duration = Duration::from_secs(15 * 60);
        match self {
            Self::Real => {
                let left = (at - self.now()).to_std().unwrap_or(Duration::ZERO);
                tokio::time::sleep(left.min(LONGEST)).await;
            }
            Self::Stepped(clock) => clock.shows(at).await,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn second(count: i64) -> Instant {
        DateTime::from_timestamp(count, 0).unwrap()
    }

    #[tokio::test]
    async fn a_stepped_clock_wakes_those_whose_time_has_come_and_nobody_else() {
        let stepped = SteppedClock::new(second(10));
        let clock = Clock::Stepped(stepped.clone());
        clock.sleep_until(second(10)).await;
        let sleeper = |at| {
            let clock = clock.clone();
            tokio::spawn(async move { clock.sleep_until(at).await })
        };
        let (early, late) = (sleeper(second(20)), sleeper(second(21)));
        stepped.step_to(second(20));
        early.await.unwrap();
        assert_eq!(clock.now(), second(20));
        assert!(!late.is_finished());
        stepped.step_to(second(30));
        late.await.unwrap();
    }

    #[test]
    fn a_stepped_clock_never_goes_back() {
        let stepped = SteppedClock::new(second(10));
        stepped.step_to(second(5));
        assert_eq!(stepped.now(), second(10));
    }

    #[test]
    fn what_a_disk_says_of_a_mail_counts_by_the_machines_clock_only() {
        let stepped = Clock::Stepped(SteppedClock::new(second(10)));
        assert_eq!(stepped.arrival(Some(second(3))), second(10));
        assert_eq!(Clock::Real.arrival(Some(second(3))), second(3));
        assert!(Clock::Real.arrival(None) > second(3));
    }
}
