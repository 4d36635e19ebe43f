//! The loop that acts: on what was received first, then on what is due.
//!
//! Never here: what an act does.
//! Promises: after an absence, mail that lies in the mailbox is worked through before anything that
//! came due meanwhile is acted on; a failing act is tried again.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use tokio::sync::watch;
use tracing::warn;

use super::super::error::ServiceError;
use super::super::office::Office;
use super::super::pulse::Loop;
use super::super::shared::{Shared, beside};
use super::super::{answers, drawing, due, waking};
use crate::follow_up::Instant;
use crate::post::Connectivity;
use crate::reply::letter;
use crate::store::Tx;
use crate::store::bell::Listener;

/// After an absence, how long to wait for replies that lie in the mailbox before anything that
/// was due meanwhile is acted on: an answer that is there already must not be asked for again.
const WAITING_MAIL_MAX: Duration = Duration::from_secs(20);
/// How long the mailbox must be silent for its waiting mail to count as taken in.
const WAITING_MAIL_SILENCE: Duration = Duration::from_secs(2);

/// Acts on mail first, then on what is due, then waits for more of either.
pub(in crate::service) async fn acting(shared: &Shared, bell: &Listener) {
    loop {
        while shared.work_one_mail().await {}
        let next_due = match shared.act_on_due().await {
            Ok(next_due) => {
                shared.pulse.comes_free(Loop::Acting);
                next_due
            }
            Err(failed) => {
                shared.pulse.sticks(Loop::Acting);
                shared.failed("acting on what is due", &failed).await;
                continue;
            }
        };
        let until_due = async {
            match next_due {
                Some(at) => shared.clock.sleep_until(at).await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            () = until_due => {}
            () = shared.to_act.notified() => {}
            () = bell.heard() => shared.committed(),
            () = shared.acted_beside.notified() => shared.committed(),
        }
    }
}

impl Shared {
    /// Puts right what the last run left unfinished, and says whether the service was away.
    pub(in crate::service) async fn begin(&self) -> Result<bool, ServiceError> {
        let now = self.now().await;
        self.act(move |office, tx| waking::begin(office, tx, now)).await
    }

    /// Takes in what waits in the mailbox and works it through, before anything that came due
    /// meanwhile is acted on.
    pub(in crate::service) async fn wait_for_waiting_mail(
        &self,
        connectivity: &mut watch::Receiver<Connectivity>,
    ) {
        let silence = async {
            if connectivity.wait_for(|health| *health == Connectivity::Up).await.is_err() {
                return;
            }
            while tokio::time::timeout(WAITING_MAIL_SILENCE, self.taken.notified()).await.is_ok() {}
        };
        if tokio::time::timeout(WAITING_MAIL_MAX, silence).await.is_err() {
            warn!("the mailbox was not reached in time; what was due is acted on without it");
        }
        while self.work_one_mail().await {}
    }

    pub(in crate::service) async fn wake(&self) {
        loop {
            let now = self.now().await;
            match self.act(move |office, tx| waking::wake(office, tx, now)).await {
                Ok(_) => return self.is_awake.store(true, Ordering::Relaxed),
                Err(failed) => self.failed("waking up", &failed).await,
            }
        }
    }

    /// Works one mail of the inbox through; false when none waits.
    async fn work_one_mail(&self) -> bool {
        let _at_work = self.pulse.begins(Loop::Acting, std::time::Instant::now());
        let taken = match self.store.write(|tx| tx.take_received()).await {
            Ok(Some(taken)) => taken,
            Ok(None) => return false,
            Err(failed) => {
                self.failed("taking a mail", &ServiceError::from(failed)).await;
                return true;
            }
        };
        let (now, id) = (self.now().await, taken.id);
        let (taken, letter) = beside(move || {
            let letter = letter::open(&taken.raw);
            (taken, letter)
        })
        .await;
        let work = move |office: &Office, tx: &mut Tx<'_>| {
            answers::work_through(office, tx, &taken, &letter, now)
        };
        let worked = self.act(work).await;
        match worked {
            Ok(()) => {
                // What is due waits for mail, so a flood of it is worked off before.
                self.pulse.advances(Loop::Acting, std::time::Instant::now());
                self.committed();
            }
            Err(failed) => {
                self.failed("working a mail through", &failed).await;
                // Until it is back in the queue nobody would begin it again before a restart.
                while let Err(failed) = self.store.write(move |tx| tx.put_received_back(id)).await {
                    self.failed("putting a mail back", &ServiceError::from(failed)).await;
                }
            }
        }
        true
    }

    /// Does what is due now. Returns when the next thing is due.
    async fn act_on_due(&self) -> Result<Option<Instant>, ServiceError> {
        loop {
            let _at_work = self.pulse.begins(Loop::Acting, std::time::Instant::now());
            let (office, now) = (Arc::clone(&self.office), self.now().await);
            let batch = self.store.write(move |tx| due::act_on_due(&office, tx, now)).await?;
            if batch.follow_ups > 0 {
                self.pulse.advances(Loop::Acting, std::time::Instant::now());
                self.committed();
            }
            if let Some(follow_up) = batch.stuck.first().copied() {
                return Err(ServiceError::TurnsWithoutEnd { follow_up });
            }
            let is_last = batch.follow_ups < due::BATCH as usize && batch.undrawn.is_empty();
            drawing::draw(&self.store, &self.office, batch.undrawn).await?;
            if is_last {
                let office = Arc::clone(&self.office);
                return Ok(self.store.read(move |view| due::next(&office, view)).await?);
            }
        }
    }
}
