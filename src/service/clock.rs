//! The clock that the service goes by: the real one, or one that is set by hand for the demo.
//!
//! Never here: wall-clock times of clients; what follows when a clock was set back (`set_back`).
//! Promises: this is the only place that asks the machine for the time; a clock that was set back
//! is noticed, however it was set.

use std::sync::{Arc, LazyLock};
use std::time::{Duration, SystemTime};

use chrono::{DateTime, TimeDelta};
use tokio::sync::watch;

use super::due::LATE_MAX;
use crate::follow_up::Instant;

/// A clock that is set back by no more than this makes nothing late that matters: the journal's
/// order is kept, and what is late by so much counts as done at its time.
const STEP_MIN: TimeDelta = LATE_MAX;

/// A clock.
#[derive(Clone, Debug)]
pub enum Clock {
    /// The machine's.
    Real,
    /// One that stands still until somebody sets it forward. However busy the machine is, nothing
    /// that goes by it is ever late.
    Stepped(SteppedClock),
}

/// A look at the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// What it shows, in whole milliseconds.
    pub shown: Instant,
    /// How long a steady clock, which nobody can set, has run by then. It begins anywhere.
    pub steady: TimeDelta,
}

/// Notices that a clock was set back, by a steady clock beside it.
///
/// A clock that is set on, and a machine that slept, move the clock ahead of the steady one; that is
/// taken as it comes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ClockWatch {
    /// What the clock would have shown when the steady one began.
    steady_began: Option<Instant>,
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

impl ClockWatch {
    /// What the clock would show by now, where it was set back by more than what counts as no step
    /// at all; the same again until it is `settled`, so that nothing is lost when the consequence
    /// cannot be drawn yet. Small steps add up.
    pub fn set_back(&mut self, reading: Reading) -> Option<Instant> {
        let began = reading.shown - reading.steady;
        let kept = *self.steady_began.get_or_insert(began);
        if began >= kept {
            self.steady_began = Some(began);
        }
        (kept - began > STEP_MIN).then(|| kept + reading.steady)
    }

    /// The consequence is drawn: what the clock shows is right from now on.
    pub fn settled(&mut self, reading: Reading) {
        self.steady_began = Some(reading.shown - reading.steady);
    }
}

impl Clock {
    /// A look at the clock and at a steady one beside it.
    pub fn reading(&self) -> Reading {
        static BEGAN: LazyLock<std::time::Instant> = LazyLock::new(std::time::Instant::now);
        let shown = self.now();
        let steady = match self {
            Self::Real => TimeDelta::from_std(BEGAN.elapsed()).unwrap_or(TimeDelta::MAX),
            Self::Stepped(_) => shown - DateTime::UNIX_EPOCH,
        };
        Reading { shown, steady }
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

    fn reading(shown: i64, steady: i64) -> Reading {
        Reading { shown: second(shown), steady: TimeDelta::seconds(steady) }
    }

    #[test]
    fn a_clock_that_was_set_back_is_noticed_until_it_is_settled_and_not_again() {
        let mut watch = ClockWatch::default();
        assert_eq!(watch.set_back(reading(10_000, 0)), None);
        assert_eq!(watch.set_back(reading(10_060, 60)), None);
        // An hour back, a minute later.
        assert_eq!(watch.set_back(reading(6_520, 120)), Some(second(10_120)));
        assert_eq!(watch.set_back(reading(6_530, 130)), Some(second(10_130)));
        watch.settled(reading(6_530, 130));
        assert_eq!(watch.set_back(reading(6_600, 200)), None);
    }

    #[test]
    fn a_clock_that_was_set_on_is_no_step_back_and_small_steps_back_add_up() {
        let mut watch = ClockWatch::default();
        assert_eq!(watch.set_back(reading(10_000, 0)), None);
        assert_eq!(watch.set_back(reading(17_210, 10)), None);
        assert_eq!(watch.set_back(reading(17_120, 20)), None);
        // 100 s back, and 100 s more.
        assert_eq!(watch.set_back(reading(17_130, 130)), Some(second(17_330)));
    }

    #[test]
    fn a_stepped_clock_is_never_taken_for_one_that_was_set_back() {
        let stepped = SteppedClock::new(second(10));
        let clock = Clock::Stepped(stepped.clone());
        let mut watch = ClockWatch::default();
        assert_eq!(watch.set_back(clock.reading()), None);
        stepped.step_to(second(10_000));
        assert_eq!(watch.set_back(clock.reading()), None);
    }

    #[test]
    fn what_a_disk_says_of_a_mail_counts_by_the_machines_clock_only() {
        let stepped = Clock::Stepped(SteppedClock::new(second(10)));
        assert_eq!(stepped.arrival(Some(second(3))), second(10));
        assert_eq!(Clock::Real.arrival(Some(second(3))), second(3));
        assert!(Clock::Real.arrival(None) > second(3));
    }
}
