//! A change of one follow-up, worked out on what was loaded and ready to be written: entries with
//! their hashes, the state after them, and the next due time.
//!
//! Working it out needs no transaction, so that it can be done beside the writer.
//!
//! Never here: SQL, decisions.
//! Promises: a change fits only on exactly the entries that it was worked out on.

use std::sync::Arc;

use super::chain::{self, Digest, Link};
use super::entry_text;
use super::follow_ups::Appended;
use super::ids::{FollowUpId, JournalSeq, to_ms};
use super::occasions::OccasionRecord;
use super::snapshot;
use crate::care::{ClientRef, PlanVersion};
use crate::follow_up::past::Chapter;
use crate::follow_up::{Entry, Instant, State};

/// A follow-up as it was loaded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loaded {
    /// Which one.
    pub follow_up: FollowUpId,
    /// The clinic's reference for the client.
    pub client: ClientRef,
    /// The version of the plan that it is pinned to.
    pub plan: PlanVersion,
    /// Its state.
    pub state: State,
    /// Where its journal ends.
    pub head: Head,
}

/// Where the journal of a follow-up ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Head {
    /// How many entries there are.
    pub entries: u64,
    pub(super) last: Option<JournalSeq>,
    pub(super) hash: Digest,
}

impl Head {
    /// The hash of the newest entry, which covers all before it.
    pub fn hash(&self) -> Digest {
        self.hash
    }
}

/// A change that is ready to be written.
#[derive(Clone, Debug)]
pub struct Change {
    pub(super) follow_up: FollowUpId,
    pub(super) on: Head,
    pub(super) occasion: Digest,
    pub(super) links: Vec<ReadyEntry>,
    pub(super) after: After,
}

/// An entry as the journal takes it.
#[derive(Clone, Debug)]
pub(super) struct ReadyEntry {
    pub(super) number: u64,
    pub(super) at_ms: i64,
    pub(super) rule: &'static str,
    pub(super) body: Vec<u8>,
    pub(super) hash: Digest,
}

/// What stands in the follow-up's own row after the change.
#[derive(Clone, Debug)]
pub(super) struct After {
    pub(super) plan: PlanVersion,
    pub(super) next_due_ms: Option<i64>,
    pub(super) standing: &'static str,
    pub(super) step: Option<u32>,
    pub(super) alert: &'static str,
    pub(super) state: Vec<u8>,
    /// How many chapters of its past stay as they are kept.
    pub(super) chapters_kept: usize,
    /// Those that come after them.
    pub(super) chapters: Vec<Arc<Chapter>>,
}

impl Loaded {
    /// Works out the change that an occasion makes. `entries` may be empty, for a change of the
    /// next due time alone; `after` is the state with all of them applied.
    pub fn change(
        &self,
        occasion: &OccasionRecord,
        entries: &[Entry],
        after: &State,
        next_due: Option<Instant>,
    ) -> Change {
        Change::new(self.follow_up, self.head, occasion, entries, after, next_due)
    }
}

impl Change {
    /// The follow-up that it changes.
    pub fn follow_up(&self) -> FollowUpId {
        self.follow_up
    }

    /// How many entries the follow-up has before the change.
    pub fn begins_after(&self) -> u64 {
        self.on.entries
    }

    /// The hash that the journal of the follow-up ends with after the change: it covers all
    /// entries up to there.
    pub fn end(&self) -> Digest {
        self.links.last().map_or(self.on.hash, |link| link.hash)
    }

    /// Where the journal of the follow-up ends once the change is written.
    pub fn head_after(&self, appended: &Appended) -> Head {
        let last = self.links.len().checked_sub(1).and_then(|last| appended.seq(last));
        Head {
            entries: self.on.entries + self.links.len() as u64,
            last: last.or(self.on.last),
            hash: self.end(),
        }
    }

    pub(super) fn new(
        follow_up: FollowUpId,
        on: Head,
        occasion: &OccasionRecord,
        entries: &[Entry],
        after: &State,
        next_due: Option<Instant>,
    ) -> Self {
        let occasion = occasion.digest();
        let mut head = on;
        let links = entries
            .iter()
            .map(|entry| {
                let ready = ready(entry, &head, occasion);
                head = Head { entries: ready.number, hash: ready.hash, ..head };
                ready
            })
            .collect();
        let (chapters_kept, chapters) = after.past().unkept();
        let after = After {
            plan: after.terms.plan.clone(),
            // Whatever ends has nothing due any more.
            next_due_ms: next_due.filter(|_| !after.is_closed()).map(to_ms),
            standing: snapshot::standing(after),
            step: after.step().map(|step| step.count()),
            alert: snapshot::alert(after),
            state: snapshot::encode(after),
            chapters_kept,
            chapters: chapters.to_vec(),
        };
        Self { follow_up, on, occasion, links, after }
    }
}

fn ready(entry: &Entry, head: &Head, occasion: Digest) -> ReadyEntry {
    let (number, at_ms, rule) = (head.entries + 1, to_ms(entry.at), entry.event.rule());
    let body = entry_text::write(entry);
    let hash = chain::next(&head.hash, &Link { number, at_ms, rule, occasion, body: &body });
    ReadyEntry { number, at_ms, rule, body, hash }
}
