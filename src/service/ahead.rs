//! A crowd of follow-ups with something due: what is due is worked out on threads beside the writer, a few
//! batches ahead of it. The writer then only writes rows.
//!
//! Never here: what an act does, writing.
//! Promises: an act is written down only if nothing that it rests on has changed since it was worked
//! out; all others are worked out anew by the writer itself, who knows the newest.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use tokio::sync::mpsc;

use super::due::{self, Batch, DueAct};
use super::error::ServiceError;
use super::office::Office;
use crate::follow_up::Instant;
use crate::store::{FollowUpId, OccasionId, Store, StoreError, Tx, View};

/// Fewer follow-ups than this are not worth a thread.
pub const CROWD_FROM: usize = 16;

/// Follow-ups that are worked out together. The writer begins with the first of these pieces.
const PIECE: usize = 1_000;

/// Follow-ups that one transaction takes at most. Each waits for the disk, and writes the pages anew that
/// all of them share; but a reply that comes meanwhile waits for it, for about a tenth of a second.
const WRITTEN_MAX: usize = 2 * PIECE;

/// Pieces that are worked out and wait to be written down: as many as one transaction takes.
const PIECES_WAITING_MAX: usize = WRITTEN_MAX / PIECE;

/// Follow-ups with something due, and what was worked out ahead for them.
#[derive(Debug)]
pub struct Ahead {
    pub(super) due: Vec<FollowUpId>,
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
    /// Takes the acts that rest on what the store still says.
    pub(super) fn still_holding(
        &mut self,
        tx: &Tx<'_>,
    ) -> Result<HashMap<FollowUpId, Box<DueAct>>, StoreError> {
        let mut parts = std::mem::take(&mut self.parts);
        let changed = match parts.iter().map(|part| part.as_of).min() {
            Some(oldest) => tx.changed_since(oldest)?,
            None => Vec::new(),
        };
        for Part { as_of, acts } in &mut parts {
            for (_, changed) in changed.iter().filter(|(when, _)| Some(*when) > *as_of) {
                match changed {
                    Some(follow_up) => drop(acts.remove(follow_up)),
                    // Something of the clinic, such as its cover: it may touch anyone.
                    None => acts.clear(),
                }
            }
        }
        Ok(parts.into_iter().flat_map(|part| part.acts).collect())
    }

    fn add(&mut self, next: Self) {
        self.due.extend(next.due);
        self.parts.extend(next.parts);
    }

    /// How many acts are worked out.
    pub fn acts(&self) -> usize {
        self.parts.iter().map(|part| part.acts.len()).sum()
    }
}

/// Follow-ups which several threads take from until none is left.
#[derive(Debug)]
struct Shared {
    due: Vec<FollowUpId>,
    /// How many have been taken.
    taken: AtomicUsize,
}

impl Shared {
    /// Works out what is due at or before now, for as many as others leave.
    fn work_out(&self, office: &Office, view: &View<'_>, now: Instant) -> Result<Part, StoreError> {
        // Before anything else is read, so that no change since can be missed.
        let as_of = view.newest_occasion()?;
        let mut acts = HashMap::with_capacity(self.due.len());
        while let Some(follow_up) = self.due.get(self.taken.fetch_add(1, Ordering::Relaxed)) {
            // What fails here is met again by the writer, where it is heard of.
            if let Ok(Some(act)) = first_act(office, view, *follow_up, now) {
                acts.insert(*follow_up, act);
            }
        }
        Ok(Part { as_of, acts })
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

/// Works out what is due first for a batch, on this thread.
///
/// # Errors
/// When the store cannot be read.
pub fn work_out(
    office: &Office,
    view: &View<'_>,
    due: Vec<FollowUpId>,
    now: Instant,
) -> Result<Ahead, StoreError> {
    let shared = Shared { due, taken: AtomicUsize::new(0) };
    let parts = vec![shared.work_out(office, view, now)?];
    Ok(Ahead { due: shared.due, parts })
}

/// Works out what is due first for a batch, beside the writer.
async fn work_out_beside(
    store: &Store,
    office: &Arc<Office>,
    due: &[FollowUpId],
    now: Instant,
) -> Result<Ahead, StoreError> {
    let shared = Arc::new(Shared { due: due.to_vec(), taken: AtomicUsize::new(0) });
    let part = || {
        let (office, shared) = (Arc::clone(office), Arc::clone(&shared));
        store.read(move |view| shared.work_out(&office, view, now))
    };
    // Two, beside the writer: its work is the smaller half.
    let (one, other) = tokio::try_join!(part(), part())?;
    Ok(Ahead { due: due.to_vec(), parts: vec![one, other] })
}

/// Does what is due for a crowd, batch by batch: while one is written down and committed, the next is
/// worked out. `now` tells the time of each, `done` hears of each that is committed.
///
/// # Errors
/// When the store refuses; then nothing of that batch has happened, and nothing of those after it.
pub async fn act_on_crowd<Now: Future<Output = Instant>>(
    store: &Store,
    office: &Arc<Office>,
    crowd: &[FollowUpId],
    now: impl Fn() -> Now,
    mut done: impl FnMut(),
) -> Result<Batch, ServiceError> {
    let (hand_over, mut to_write) = mpsc::channel(PIECES_WAITING_MAX);
    let (now, pieces) = (&now, crowd.chunks(PIECE));
    let working_out = async move {
        for due in pieces {
            let ahead = work_out_beside(store, office, due, now().await).await?;
            // Nobody takes it where writing has failed, which is heard of there.
            if hand_over.send(ahead).await.is_err() {
                break;
            }
        }
        Ok::<_, ServiceError>(())
    };
    let writing = async {
        let mut all = Batch::default();
        while let Some(mut ahead) = to_write.recv().await {
            // What is there goes along: each commit waits for the disk.
            while ahead.due.len() < WRITTEN_MAX
                && let Ok(next) = to_write.try_recv()
            {
                ahead.add(next);
            }
            let (office, now) = (Arc::clone(office), now().await);
            let batch = store.write(move |tx| due::act_on_ahead(&office, tx, now, ahead)).await?;
            done();
            all.add(batch);
        }
        Ok(all)
    };
    let ((), all) = tokio::try_join!(working_out, writing)?;
    Ok(all)
}
