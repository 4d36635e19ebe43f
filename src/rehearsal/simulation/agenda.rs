//! What is to happen in a simulated world, in the order of time.
//!
//! Never here: what happens.
//! Promises: of two things at one instant, the one that was planned first happens first.

use std::cmp::{Ordering, Reverse};
use std::collections::BinaryHeap;

use crate::follow_up::Instant;

/// What is to happen.
#[derive(Debug)]
pub(super) struct Agenda<H> {
    planned: BinaryHeap<Reverse<Planned<H>>>,
    count: u64,
}

#[derive(Debug)]
struct Planned<H> {
    at: Instant,
    order: u64,
    what: H,
}

impl<H> Default for Agenda<H> {
    fn default() -> Self {
        Self { planned: BinaryHeap::new(), count: 0 }
    }
}

impl<H> Agenda<H> {
    /// Puts something on it.
    pub(super) fn put(&mut self, at: Instant, what: H) {
        self.count += 1;
        self.planned.push(Reverse(Planned { at, order: self.count, what }));
    }

    /// When the next thing happens.
    pub(super) fn next_at(&self) -> Option<Instant> {
        self.planned.peek().map(|Reverse(next)| next.at)
    }

    /// Takes the next thing that happens before an instant.
    pub(super) fn take_before(&mut self, end: Instant) -> Option<(Instant, H)> {
        self.next_at().filter(|at| *at < end)?;
        self.planned.pop().map(|Reverse(Planned { at, what, .. })| (at, what))
    }
}

impl<H> Ord for Planned<H> {
    fn cmp(&self, other: &Self) -> Ordering {
        (self.at, self.order).cmp(&(other.at, other.order))
    }
}

impl<H> PartialOrd for Planned<H> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl<H> PartialEq for Planned<H> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl<H> Eq for Planned<H> {}
