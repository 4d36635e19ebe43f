//! What all pages of a board share.
//!
//! Never here: pages.
//! Promises: at most a few pages read the data at once, so that browsers never crowd the service
//! out; the service hears of every act at once.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use tokio::sync::{Mutex, Notify, Semaphore, watch};

use super::pace::Pace;
use super::passes::Passes;
use super::refused::Refused;
use super::today::Rows;
use crate::config::BoardSettings;
use crate::follow_up;
use crate::post::Outlet;
use crate::service::{Acted, Clock, Office, ServiceError, drawing};
use crate::store::{FollowUpId, Store, StoreError, Tx, View};

/// Pages that read the data at once.
const READERS_MAX: usize = 2;
/// How long a page may wait for its turn to read.
const TURN_WITHIN: Duration = Duration::from_secs(10);
/// The span that tries are counted in.
const SPAN: Duration = Duration::from_secs(15 * 60);

/// What all pages share.
pub(super) struct Room {
    pub(super) office: Arc<Office>,
    pub(super) store: Store,
    pub(super) clock: Clock,
    pub(super) outlet: Outlet,
    pub(super) settings: BoardSettings,
    /// Counts what the service commits.
    pub(super) commits: watch::Sender<u64>,
    /// Counts the acts that were done here.
    pub(super) acts: AtomicU64,
    /// What today's page showed last.
    pub(super) rows: Mutex<Option<Arc<Rows>>>,
    /// Rung after each act.
    pub(super) acted: Arc<Notify>,
    pub(super) passes: Passes,
    /// Links that are asked for, by the address that they go to.
    pub(super) asked_for: Pace,
    /// Links that are asked for and tried, by who knocks.
    pub(super) knocks: Pace,
    turns: Semaphore,
}

/// An act on one follow-up, as the plain functions of the service have it.
pub(super) trait Deed:
    Fn(&Office, &mut Tx<'_>, FollowUpId, follow_up::Instant) -> Result<Acted, ServiceError>
    + Clone
    + Send
    + Sync
    + 'static
{
}

impl<F> Deed for F where
    F: Fn(&Office, &mut Tx<'_>, FollowUpId, follow_up::Instant) -> Result<Acted, ServiceError>
        + Clone
        + Send
        + Sync
        + 'static
{
}

/// How a rehearsed act ended; both take the transaction back.
enum Rehearsed {
    Would(Box<Acted>),
    Failed(ServiceError),
}

impl From<StoreError> for Rehearsed {
    fn from(error: StoreError) -> Self {
        Self::Failed(error.into())
    }
}

impl Room {
    pub(super) fn new(
        (office, store, clock): (Arc<Office>, Store, Clock),
        outlet: Outlet,
        settings: BoardSettings,
    ) -> Self {
        Self {
            office,
            store,
            clock,
            outlet,
            settings,
            commits: watch::Sender::new(0),
            acts: AtomicU64::new(0),
            rows: Mutex::default(),
            acted: Arc::default(),
            passes: Passes::default(),
            // Both are common practice, no source: enough for a clumsy day, too few to search with.
            asked_for: Pace::new(4, SPAN),
            knocks: Pace::new(30, SPAN),
            turns: Semaphore::new(READERS_MAX),
        }
    }

    /// Counts what is committed, until it is dropped.
    pub(super) async fn count(&self, committed: &Notify) {
        let mut news = std::pin::pin!(committed.notified());
        news.as_mut().enable();
        loop {
            news.as_mut().await;
            news.set(committed.notified());
            news.as_mut().enable();
            self.commits.send_modify(|count| *count = count.wrapping_add(1));
        }
    }

    /// The present time of the service.
    pub(super) fn now(&self) -> follow_up::Instant {
        self.clock.now()
    }

    /// Reads the data when it is this page's turn.
    ///
    /// # Errors
    /// Those of the work; `Busy` when its turn did not come.
    pub(super) async fn read<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Office, &View<'_>) -> Result<T, Refused> + Send + 'static,
    ) -> Result<T, Refused> {
        let turn = tokio::time::timeout(TURN_WITHIN, self.turns.acquire());
        let Ok(Ok(_turn)) = turn.await else { return Err(Refused::Busy) };
        let office = Arc::clone(&self.office);
        self.store.read(move |view| work(&office, view)).await
    }

    /// Does an act, with the service's pictures, and lets the service know.
    ///
    /// # Errors
    /// Those of the act; then nothing has happened.
    pub(super) async fn perform<T: Send + 'static>(
        &self,
        act: impl Fn(&Office, &mut Tx<'_>, follow_up::Instant) -> Result<T, ServiceError>
        + Send
        + Sync
        + 'static,
    ) -> Result<T, ServiceError> {
        let now = self.now();
        let done =
            drawing::write(&self.store, &self.office, move |office, tx| act(office, tx, now))
                .await?;
        self.acts.fetch_add(1, Ordering::Relaxed);
        self.acted.notify_one();
        Ok(done)
    }

    /// Does an act and takes it back: what would follow from it.
    ///
    /// # Errors
    /// Those of the act.
    pub(super) async fn rehearse(
        &self,
        follow_up: FollowUpId,
        deed: impl Deed,
    ) -> Result<Acted, ServiceError> {
        let now = self.now();
        loop {
            let (office, deed) = (Arc::clone(&self.office), deed.clone());
            let rehearsed = self.store.write(move |tx| -> Result<(), Rehearsed> {
                Err(match deed(&office, tx, follow_up, now) {
                    Ok(acted) => Rehearsed::Would(Box::new(acted)),
                    Err(failed) => Rehearsed::Failed(failed),
                })
            });
            match rehearsed.await {
                Ok(()) => unreachable!("a rehearsal always ends in what it shows"),
                Err(Rehearsed::Would(acted)) => return Ok(*acted),
                Err(Rehearsed::Failed(ServiceError::Undrawn(wanted))) => {
                    drawing::draw(&self.store, &self.office, wanted).await?;
                }
                Err(Rehearsed::Failed(failed)) => return Err(failed),
            }
        }
    }

    /// Counts that somebody knocks at the door without being signed in.
    ///
    /// # Errors
    /// When they knock too often.
    pub(super) fn knock(&self, peer: &str) -> Result<(), Refused> {
        self.knocks.try_by(peer, Instant::now()).map_err(Refused::TooMany)
    }
}
