//! Sets the clock forward as soon as service and people have nothing left to do at the time.
//!
//! The service runs its own loops; the conductor only looks whether anything is under way: a mail
//! on its way to the service, one that it has not worked through, something due, a mail in the
//! outbox, a mail that nobody has read. It looks in the direction in which things move, so that
//! nothing slips past between two looks.
//!
//! Never here: acts of the service.
//! Promises: nothing is ever due before the clock shows it, and nothing is late by it.

use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::Notify;
use tokio::task::JoinHandle;
use tokio::time::Instant as Moment;

use super::cast::Cast;
use super::error::DemoError;
use super::watcher::Watcher;
use crate::follow_up::Instant;
use crate::service::ServiceError;
use crate::service::clock::SteppedClock;
use crate::store::{Store, StoreError};

/// How long to wait for a sign of the service before looking again: moving a mail between two
/// folders gives none.
const LOOK_AGAIN: Duration = Duration::from_millis(3);
/// After so long without any step the demonstration is given up.
const STANDSTILL_MAX: Duration = Duration::from_secs(90);

/// The conductor.
pub(super) struct Conductor {
    pub(super) store: Store,
    pub(super) clock: SteppedClock,
    pub(super) committed: Arc<Notify>,
    pub(super) pace: Pace,
    /// The maildir of the service.
    pub(super) mailbox: PathBuf,
    pub(super) cast: Cast,
    pub(super) watcher: Watcher,
}

impl Conductor {
    /// Runs until the clock would show `until`, with everything before it done and shown.
    pub(super) async fn conduct(
        &mut self,
        until: Instant,
        running: &JoinHandle<Result<(), ServiceError>>,
        out: &mut (dyn Write + Send),
    ) -> Result<(), DemoError> {
        let mut moved = Moment::now();
        let committed = Arc::clone(&self.committed);
        loop {
            let news = committed.notified();
            tokio::pin!(news);
            news.as_mut().enable();
            let now = self.clock.now();
            self.cast.read_mail(now)?;
            self.cast.write(now).await?;
            self.watcher.show(&self.store, out).await?;
            if running.is_finished() {
                return Err(DemoError::Ended);
            }
            match self.next_step(now).await? {
                Some(next) if next >= until => {
                    return self.watcher.show(&self.store, out).await;
                }
                Some(next) => {
                    self.pace.wait_for(next).await;
                    self.clock.step_to(next);
                    moved = Moment::now();
                }
                None if moved.elapsed() > STANDSTILL_MAX => {
                    return Err(DemoError::StoodStill { seconds: STANDSTILL_MAX.as_secs() });
                }
                // Running out of patience is as good as a sign: either way it looks again.
                None => drop(tokio::time::timeout(LOOK_AGAIN, news).await),
            }
        }
    }

    /// When the next thing happens; none while something is under way.
    async fn next_step(&self, now: Instant) -> Result<Option<Instant>, DemoError> {
        let arriving = std::fs::read_dir(self.mailbox.join("new"))
            .map(|mut entries| entries.next().is_some())
            .map_err(|source| DemoError::Folder { path: self.mailbox.clone(), source })?;
        if arriving {
            return Ok(None);
        }
        let waits = self
            .store
            .read(|view| -> Result<_, StoreError> {
                let (received, _) = view.received_waiting()?;
                let sending = view.outbox_counts()?.sending;
                Ok((received + sending, view.earliest_due()?, view.next_try()?))
            })
            .await?;
        let (under_way, next_due, next_try) = waits;
        let next = [next_due, next_try, self.cast.next()].into_iter().flatten().min();
        let is_idle = under_way == 0 && next.is_none_or(|next| next > now);
        if !is_idle || self.cast.has_unread()? {
            return Ok(None);
        }
        Ok(Some(next.unwrap_or(Instant::MAX_UTC)))
    }
}

/// How fast the clock may go, so that people can read along.
pub(super) struct Pace {
    from: Instant,
    since: Moment,
    /// How long a second of the demonstration takes, in seconds.
    scale: f64,
}

impl Pace {
    /// A pace that takes `real` for the time from one instant to another.
    pub(super) fn over(from: Instant, until: Instant, real: Duration) -> Self {
        let shown = (until - from).to_std().unwrap_or(Duration::from_secs(1));
        Self { from, since: Moment::now(), scale: real.as_secs_f64() / shown.as_secs_f64() }
    }

    async fn wait_for(&self, at: Instant) {
        let passed = (at - self.from).to_std().unwrap_or(Duration::ZERO);
        tokio::time::sleep_until(self.since + passed.mul_f64(self.scale)).await;
    }
}
