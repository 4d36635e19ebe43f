//! What is due, worked out ahead: on threads beside the writer, while it writes down and commits the
//! batch before. The writer then only writes rows.
//!
//! Never here: what an act does, writing.
//! Promises: an act is written down only if nothing that it rests on has changed since it was worked
//! out; all others are worked out anew by the writer itself, who knows the newest.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::due::{self, Batch, DueAct};
use super::error::ServiceError;
use super::office::Office;
use crate::follow_up::Instant;
use crate::store::{FollowUpId, OccasionId, Store, StoreError, Tx, View};

/// Fewer follow-ups than this are not worth a thread.
const WORTH_IT_FROM: usize = 16;

/// Acts that were worked out ahead.
#[derive(Debug, Default)]
pub struct Ahead {
    parts: Vec<Part>,
}

/// Acts that were worked out at one moment of the data.
#[derive(Debug)]
struct Part {
    /// The newest occasion at that moment.
    as_of: Option<OccasionId>,
    /// Boxed, since they are large and are handed from hand to hand.
    acts: HashMap<FollowUpId, Box<DueAct>>,
}

impl Ahead {
    /// The acts that rest on what the store still says.
    pub(super) fn still_holding(
        self,
        tx: &Tx<'_>,
    ) -> Result<HashMap<FollowUpId, Box<DueAct>>, StoreError> {
        let mut holding = HashMap::new();
        for Part { as_of, mut acts } in self.parts {
            for changed in tx.changed_since(as_of)? {
                match changed {
                    Some(follow_up) => drop(acts.remove(&follow_up)),
                    // Something of the clinic, such as its cover: it may touch anyone.
                    None => acts.clear(),
                }
            }
            holding.extend(acts);
        }
        Ok(holding)
    }

    /// How many acts there are.
    pub fn len(&self) -> usize {
        self.parts.iter().map(|part| part.acts.len()).sum()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.parts.iter().all(|part| part.acts.is_empty())
    }

    fn follow_ups(&self) -> HashSet<FollowUpId> {
        self.parts.iter().flat_map(|part| part.acts.keys().copied()).collect()
    }
}

/// Follow-ups with something due, which several threads take from until none is left.
#[derive(Debug, Default)]
pub struct Crowd {
    /// Those whose acts are in hand already, and are passed over.
    in_hand: HashSet<FollowUpId>,
    /// How many have been taken.
    taken: AtomicUsize,
}

impl Crowd {
    /// Works out what is due at or before now, as much of it as others leave; none where little is due.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn work_out(
        &self,
        office: &Office,
        view: &View<'_>,
        now: Instant,
    ) -> Result<Ahead, StoreError> {
        // Before anything else is read, so that no change since can be missed.
        let as_of = view.newest_occasion()?;
        let limit = due::BATCH + u32::try_from(self.in_hand.len()).unwrap_or(due::BATCH);
        let mut due = view.due_follow_ups(now, limit)?;
        due.retain(|follow_up| !self.in_hand.contains(follow_up));
        if due.len() < WORTH_IT_FROM {
            return Ok(Ahead::default());
        }
        let mut acts = HashMap::with_capacity(due.len());
        while let Some(follow_up) = due.get(self.taken.fetch_add(1, Ordering::Relaxed)) {
            // What fails here is met again by the writer, where it is heard of.
            if let Ok(Some(act)) = first_act(office, view, *follow_up, now) {
                acts.insert(*follow_up, act);
            }
        }
        Ok(Ahead { parts: vec![Part { as_of, acts }] })
    }
}

fn first_act(
    office: &Office,
    view: &View<'_>,
    follow_up: FollowUpId,
    now: Instant,
) -> Result<Option<Box<DueAct>>, ServiceError> {
    let work_out = || due::first_due(office, view, view.load(follow_up)?, now);
    let worked_out = match work_out() {
        // Beside the writer already, so it is drawn at once.
        Err(ServiceError::Undrawn(wanted)) => {
            office.draw(view, &wanted);
            work_out()
        }
        done => done,
    };
    Ok(worked_out?.ok())
}

/// Works out what is due at or before now, beside the writer.
///
/// # Errors
/// When the store cannot be read.
pub async fn work_out(
    store: &Store,
    office: &Arc<Office>,
    now: Instant,
    in_hand: HashSet<FollowUpId>,
) -> Result<Ahead, StoreError> {
    let crowd = Arc::new(Crowd { in_hand, taken: AtomicUsize::new(0) });
    let part = || {
        let (office, crowd) = (Arc::clone(office), Arc::clone(&crowd));
        store.read(move |view| crowd.work_out(&office, view, now))
    };
    // Two, beside the writer: its work is the smaller half.
    let (one, other) = tokio::try_join!(part(), part())?;
    Ok(Ahead { parts: one.parts.into_iter().chain(other.parts).collect() })
}

/// Does what is due at or before now, for at most a batch of follow-ups, with the acts that were worked
/// out ahead for it; meanwhile those of the next batch are worked out.
///
/// # Errors
/// When the store refuses; then nothing of the batch has happened.
pub async fn act_on_due(
    store: &Store,
    office: &Arc<Office>,
    now: Instant,
    ahead: Ahead,
) -> Result<(Batch, Ahead), ServiceError> {
    let in_hand = ahead.follow_ups();
    let is_crowd = in_hand.len() >= due::BATCH as usize / 2;
    let writing = {
        let office = Arc::clone(office);
        store.write(move |tx| due::act_on_due_with(&office, tx, now, ahead))
    };
    let next = async {
        if is_crowd { work_out(store, office, now, in_hand).await } else { Ok(Ahead::default()) }
    };
    let (batch, next) = tokio::join!(writing, next);
    Ok((batch?, next?))
}
