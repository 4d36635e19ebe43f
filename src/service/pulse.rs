//! The loops' pulse: which piece of work each has in hand and since when, and when it last got one done.
//!
//! Never here: what is done about a loop that hangs.
//! Promises: a loop that waits for something to do is never taken for one that hangs; a piece of work
//! counts from its own beginning, however many were done before; what fails again and again is no
//! progress, whatever else is done meanwhile.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A loop of the service.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Loop {
    /// Works mail through and does what is due.
    Acting,
    /// Stores mail that comes.
    Taking,
    /// Claims mail and notes what became of it.
    Sending,
}

/// The pulse of all loops; clones share it.
#[derive(Clone, Debug, Default)]
pub struct Pulse {
    at_work: Arc<Mutex<Work>>,
}

#[derive(Debug, Default)]
struct Work {
    count: u64,
    begun: BTreeMap<u64, (Loop, Instant)>,
    advanced: BTreeMap<Loop, Instant>,
    stuck: BTreeSet<Loop>,
}

/// A piece of work in hand; it is done when this is dropped.
#[derive(Debug)]
pub struct AtWork {
    pulse: Pulse,
    number: u64,
}

impl Pulse {
    /// A loop begins a piece of work.
    #[must_use]
    pub fn begins(&self, which: Loop, now: Instant) -> AtWork {
        let mut work = self.lock();
        work.count += 1;
        let number = work.count;
        work.begun.insert(number, (which, now));
        AtWork { pulse: self.clone(), number }
    }

    /// The loop that has had one piece of work in hand for longer than `most`.
    pub fn hanging(&self, most: Duration, now: Instant) -> Option<Loop> {
        let hangs = |begun: Instant| now.saturating_duration_since(begun) > most;
        self.lock().begun.values().find(|(_, begun)| hangs(*begun)).map(|(which, _)| *which)
    }

    /// A loop got a piece of what is owed done.
    pub fn advances(&self, which: Loop, now: Instant) {
        self.lock().advanced.insert(which, now);
    }

    /// A loop leaves something undone that it has tried.
    pub fn sticks(&self, which: Loop) {
        self.lock().stuck.insert(which);
    }

    /// Nothing that a loop has tried is left undone.
    pub fn comes_free(&self, which: Loop) {
        self.lock().stuck.remove(&which);
    }

    /// Whether a loop got something done within so long, and is not stuck.
    pub fn is_advancing(&self, which: Loop, within: Duration, now: Instant) -> bool {
        let work = self.lock();
        let lately = |at: &Instant| now.saturating_duration_since(*at) <= within;
        !work.stuck.contains(&which) && work.advanced.get(&which).is_some_and(lately)
    }

    fn lock(&self) -> MutexGuard<'_, Work> {
        // A poisoned lock still holds a whole table: entries are only put in and taken out.
        self.at_work.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        self.pulse.lock().begun.remove(&self.number);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loop_hangs_only_while_one_piece_of_work_takes_too_long() {
        let (pulse, begun) = (Pulse::default(), Instant::now());
        let later = |seconds| begun + Duration::from_secs(seconds);
        let most = Duration::from_secs(60);
        assert_eq!(pulse.hanging(most, later(1000)), None);
        let first = pulse.begins(Loop::Acting, begun);
        assert_eq!(pulse.hanging(most, later(60)), None);
        assert_eq!(pulse.hanging(most, later(61)), Some(Loop::Acting));
        drop(first);
        let _second = pulse.begins(Loop::Acting, later(61));
        assert_eq!(pulse.hanging(most, later(100)), None);
    }

    #[test]
    fn a_loop_that_gets_work_done_advances_unless_something_it_tried_stays_undone() {
        let (pulse, begun) = (Pulse::default(), Instant::now());
        let within = Duration::from_secs(60);
        let is_advancing = |seconds| {
            pulse.is_advancing(Loop::Acting, within, begun + Duration::from_secs(seconds))
        };
        assert!(!is_advancing(0));
        pulse.advances(Loop::Acting, begun);
        assert!(is_advancing(60));
        assert!(!is_advancing(61));
        assert!(!pulse.is_advancing(Loop::Sending, within, begun));
        pulse.sticks(Loop::Acting);
        pulse.advances(Loop::Acting, begun);
        assert!(!is_advancing(1));
        pulse.comes_free(Loop::Acting);
        assert!(is_advancing(1));
    }
}
