//! The clock that the service goes by: the real one, or one that is set by hand for the demo.
//!
//! Never here: wall-clock times of clients; what follows when a clock was set back (`set_back`).
//! Promises: this is the only place that asks the machine for the time; a clock that was set back
//! or on is noticed, however it was set.

use std::sync::{Arc, LazyLock};
use std::time::{Duration, SystemTime};

use chrono::{DateTime, TimeDelta};
use tokio::sync::watch;

use super::due::LATE_MAX;
use crate::follow_up::Instant;

/// A clock that is set back by no more than this makes nothing late that matters: the journal's
/// order is kept, and what is late by so much counts as done at its time.
const BACK_MIN: TimeDelta = LATE_MAX;
/// A clock that is set on by no more than this dates no mail wrongly that matters.
const ON_MIN: TimeDelta = TimeDelta::seconds(1);

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

/// A step of the clock, beside a steady one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// It was set back: it would show `instead_of` by now.
    Back {
        /// What it would show.
        instead_of: Instant,
    },
    /// It was set on, or the machine slept, which moves the clock ahead of the steady one too.
    On {
        /// By how much.
        by: TimeDelta,
    },
}

/// Notices that a clock was set, by a steady clock beside it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ClockWatch {
    began: Option<Began>,
}

/// What the clock would have shown when the steady one began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Began {
    /// By the reading that the last step was settled with.
    settled: Instant,
    /// By the reading that was furthest ahead since.
    furthest: Instant,
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
    /// The step that the clock has made since the last one was settled; the same again until it is
    /// `settled`, so that nothing is lost when the consequence cannot be drawn yet. Small steps add
    /// up. Of two steps, the one ahead comes first.
    pub fn step(&mut self, reading: Reading) -> Option<Step> {
        let began = reading.shown - reading.steady;
        let kept = self.began.get_or_insert(Began { settled: began, furthest: began });
        kept.furthest = kept.furthest.max(began);
        let on = kept.furthest - kept.settled;
        if on > ON_MIN {
            Some(Step::On { by: on })
        } else if kept.furthest - began > BACK_MIN {
            Some(Step::Back { instead_of: kept.furthest + reading.steady })
        } else {
            None
        }
    }

    /// The consequence of a step is drawn.
    pub fn settled(&mut self, step: Step, reading: Reading) {
        let began = reading.shown - reading.steady;
        self.began = self.began.map(|kept| match step {
            Step::On { by } => Began { settled: kept.settled + by, ..kept },
            Step::Back { .. } => Began { settled: began, furthest: began },
        });
    }

    /// What the clock would show without the steps that are not settled yet.
    pub fn before_steps(&self, reading: Reading) -> Instant {
        self.began.map_or(reading.shown, |kept| kept.settled + reading.steady)
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

    /// What a mail server or a disk says of when a mail came. Those go by real time, which means
    /// nothing to a clock that is set by hand.
    pub fn dated(&self, told: Option<Instant>) -> Option<Instant> {
        told.filter(|_| matches!(self, Self::Real))
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

    fn on(seconds: i64) -> Option<Step> {
        Some(Step::On { by: TimeDelta::seconds(seconds) })
    }

    fn back(instead_of: i64) -> Option<Step> {
        Some(Step::Back { instead_of: second(instead_of) })
    }

    #[test]
    fn a_clock_that_was_set_back_is_noticed_until_it_is_settled_and_not_again() {
        let mut watch = ClockWatch::default();
        assert_eq!(watch.step(reading(10_000, 0)), None);
        assert_eq!(watch.step(reading(10_060, 60)), None);
        // An hour back, a minute later.
        assert_eq!(watch.step(reading(6_520, 120)), back(10_120));
        assert_eq!(watch.step(reading(6_530, 130)), back(10_130));
        assert_eq!(watch.before_steps(reading(6_530, 130)), second(10_130));
        watch.settled(Step::Back { instead_of: second(10_130) }, reading(6_530, 130));
        assert_eq!(watch.step(reading(6_600, 200)), None);
    }

    #[test]
    fn a_clock_that_was_set_on_is_noticed_and_what_follows_is_held_against_where_it_went() {
        let mut watch = ClockWatch::default();
        assert_eq!(watch.step(reading(10_000, 0)), None);
        assert_eq!(watch.step(reading(17_210, 10)), on(7_200));
        // It could not be written down, and the clock is set back by an hour meanwhile.
        let later = reading(13_620, 20);
        assert_eq!(watch.step(later), on(7_200));
        watch.settled(Step::On { by: TimeDelta::hours(2) }, later);
        assert_eq!(watch.step(later), back(17_220));
        watch.settled(Step::Back { instead_of: second(17_220) }, later);
        assert_eq!(watch.step(reading(13_630, 30)), None);
    }

    #[test]
    fn small_steps_back_add_up() {
        let mut watch = ClockWatch::default();
        assert_eq!(watch.step(reading(17_210, 10)), None);
        assert_eq!(watch.step(reading(17_120, 20)), None);
        // 100 s back, and 100 s more.
        assert_eq!(watch.step(reading(17_130, 130)), back(17_330));
    }

    #[test]
    fn a_stepped_clock_is_never_taken_for_one_that_was_set() {
        let stepped = SteppedClock::new(second(10));
        let clock = Clock::Stepped(stepped.clone());
        let mut watch = ClockWatch::default();
        assert_eq!(watch.step(clock.reading()), None);
        stepped.step_to(second(10_000));
        assert_eq!(watch.step(clock.reading()), None);
    }

    #[test]
    fn what_a_disk_says_of_a_mail_counts_by_the_machines_clock_only() {
        let stepped = Clock::Stepped(SteppedClock::new(second(10)));
        assert_eq!(stepped.dated(Some(second(3))), None);
        assert_eq!(Clock::Real.dated(Some(second(3))), Some(second(3)));
    }
}
