//! What the loops share: the office, the store, the clock, and the bells by which they wake each other.
//!
//! Never here: the loops; what any act does.
//! Promises: a step of the clock is written down before anything goes by it; a failure is logged with
//! its reason and ends nothing.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::TimeDelta;
use tokio::sync::{self, Notify};
use tracing::{error, warn};

use super::clock::{Clock, ClockWatch, Step};
use super::error::ServiceError;
use super::ledger::Area;
use super::office::Office;
use super::pulse::Pulse;
use super::watching::WayOut;
use super::{drawing, mail_clock, set_back};
use crate::follow_up::Instant;
use crate::notice::ServiceTrouble;
use crate::store::{RememberedInstant, Store, Tx};

/// How long a loop waits before it tries a failing store again.
const AFTER_FAILURE: Duration = Duration::from_secs(5);

/// What the loops share.
pub(super) struct Shared {
    pub(super) office: Arc<Office>,
    pub(super) store: Store,
    pub(super) clock: Clock,
    clock_watch: sync::Mutex<ClockWatch>,
    pub(super) pulse: Pulse,
    pub(super) way_out: WayOut,
    /// Whether the absence before this run has been looked into.
    pub(super) is_awake: AtomicBool,
    noted: Mutex<BTreeMap<Area, Option<ServiceTrouble>>>,
    /// By how much the clock was set on, or back, where nobody has been told of it.
    stepped: Mutex<Option<TimeDelta>>,
    pub(super) to_act: Notify,
    pub(super) to_send: Notify,
    committed: Arc<Notify>,
    /// Rung by what works beside the service; never where nothing does.
    pub(super) acted_beside: Arc<Notify>,
    pub(super) taken: Notify,
}

impl Shared {
    /// What the loops of one run share; `acted_beside` is rung by what works beside the service.
    pub(super) fn new(
        office: Arc<Office>,
        store: Store,
        clock: Clock,
        committed: Arc<Notify>,
        acted_beside: Arc<Notify>,
    ) -> Self {
        Self {
            office,
            store,
            clock,
            clock_watch: sync::Mutex::new(ClockWatch::default()),
            pulse: Pulse::default(),
            way_out: WayOut::new(),
            is_awake: AtomicBool::new(false),
            noted: Mutex::default(),
            stepped: Mutex::default(),
            to_act: Notify::new(),
            to_send: Notify::new(),
            committed,
            acted_beside,
            taken: Notify::new(),
        }
    }

    /// The present time. Where the clock was set, that is written down before anything else goes
    /// by it; while it cannot be written, it is tried again at the next look at the clock.
    pub(super) async fn now(&self) -> Instant {
        self.look_at_clock().await.unwrap_or_else(|(now, _)| now)
    }

    /// The present time, or with it what keeps a step of the clock from being written down.
    async fn look_at_clock(&self) -> Result<Instant, (Instant, ServiceError)> {
        let mut watch = self.clock_watch.lock().await;
        let reading = self.clock.reading();
        while let Some(step) = watch.step(reading) {
            warn!(?step, "the machine's clock was set");
            let now = reading.shown;
            let noted = self
                .act(move |office, tx| match step {
                    Step::Back { instead_of } => {
                        set_back::noticed_at_once(office, tx, instead_of, now)
                    }
                    Step::On { by } => Ok(mail_clock::may_be_ahead_by_more(tx, by)?),
                })
                .await;
            if let Err(failed) = noted {
                error!(error = %failed, "that could not be written down yet");
                return Err((now, failed));
            }
            watch.settled(step, reading);
            *self.stepped.lock().unwrap_or_else(PoisonError::into_inner) = Some(match step {
                Step::On { by } => by,
                Step::Back { instead_of } => now - instead_of,
            });
            // They sleep by what the clock showed before.
            self.wake_loops();
            self.committed();
        }
        Ok(reading.shown)
    }

    /// The step of the clock, on or back, that is still to be told.
    pub(super) fn take_step(&self) -> Option<TimeDelta> {
        self.stepped.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    /// Does an act, with its pictures drawn beside the writer.
    pub(super) async fn act<T, F>(&self, act: F) -> Result<T, ServiceError>
    where
        T: Send + 'static,
        F: Fn(&Office, &mut Tx<'_>) -> Result<T, ServiceError> + Send + Sync + 'static,
    {
        drawing::write(&self.store, &self.office, act).await
    }

    pub(super) fn committed(&self) {
        self.to_send.notify_one();
        self.tell_committed();
    }

    /// Tells whoever looks on of a commit that put no mail in the outbox.
    pub(super) fn tell_committed(&self) {
        self.committed.notify_waiters();
    }

    pub(super) async fn failed(&self, doing: &'static str, failed: &ServiceError) {
        error!(doing, error = %failed, "tried again in a moment");
        tokio::time::sleep(AFTER_FAILURE).await;
    }

    /// Notes that the service is alive; before it has woken up only that it can write, since the
    /// absence is still to be told.
    pub(super) async fn remember_alive(&self) -> Result<(), ServiceError> {
        // Not before a step that is still to be written down: its size would be lost.
        let now = self.look_at_clock().await.map_err(|(_, failed)| failed)?;
        let what = if self.is_awake.load(Ordering::Relaxed) {
            RememberedInstant::LastAlive
        } else {
            RememberedInstant::LastWritten
        };
        Ok(self.store.write(move |tx| tx.remember(what, now)).await?)
    }

    /// Wakes the loops that sleep by what the clock showed.
    pub(super) fn wake_loops(&self) {
        self.to_act.notify_one();
        self.to_send.notify_one();
    }

    /// Notes how an area is, for the watching loop to take up.
    pub(super) fn note(&self, area: Area, trouble: Option<ServiceTrouble>) {
        self.noted.lock().unwrap_or_else(PoisonError::into_inner).insert(area, trouble);
    }

    /// What other loops noted last of each area.
    pub(super) fn noted(&self) -> BTreeMap<Area, Option<ServiceTrouble>> {
        self.noted.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

/// Up to so many bytes a mail is looked into at once: most are far shorter, and handing one to another
/// thread and back takes longer than that.
const SHORT_BYTES: usize = 16 * 1024;

/// Looks into a mail of so many bytes: on another thread where it is long.
pub(super) async fn beside_if_long<T: Send + 'static>(
    bytes: usize,
    work: impl FnOnce() -> T + Send + 'static,
) -> T {
    if bytes <= SHORT_BYTES { work() } else { beside(work).await }
}

/// Does what takes a while and needs nobody else on a thread for such work.
async fn beside<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> T {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(failed) => match failed.try_into_panic() {
            Ok(panic) => std::panic::resume_unwind(panic),
            // The runtime goes down, and whoever waits here goes with it.
            Err(_) => std::future::pending().await,
        },
    }
}
