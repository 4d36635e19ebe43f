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

use super::super::ahead;
use super::super::error::ServiceError;
use super::super::office::Office;
use super::super::pulse::Loop;
use super::super::shared::{Shared, beside_if_long};
use super::super::{answers, drawing, due, set_back, waking};
use crate::follow_up::Instant;
use crate::post::Connectivity;
use crate::reply::letter;
use crate::store::bell::Listener;
use crate::store::{StoreError, TakenMail, Tx};

/// After an absence, how long to wait for replies that lie in the mailbox before anything that
/// was due meanwhile is acted on: an answer that is there already must not be asked for again.
const WAITING_MAIL_MAX: Duration = Duration::from_secs(20);
/// How long the mailbox must be silent for its waiting mail to count as taken in.
const WAITING_MAIL_SILENCE: Duration = Duration::from_secs(2);
/// How many follow-ups are looked up at once of those that have something due.
const CROWD_MAX: u32 = 10_000;

/// Acts on mail first, then on what is due, then waits for more of either.
pub(in crate::service) async fn acting(shared: &Shared, bell: &Listener) {
    loop {
        shared.work_mail().await;
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

/// A mail could not be worked through and waits again.
struct PutBack;

impl Shared {
    /// Puts right what the last run left unfinished, and says whether the service was away.
    pub(in crate::service) async fn begin(&self) -> Result<bool, ServiceError> {
        let now = self.now().await;
        let ahead = self.store.read(move |view| set_back::ahead_at_start(view, now)).await?;
        self.act(move |office, tx| waking::begin_with(office, tx, &ahead, now)).await
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
        self.work_mail().await;
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

    /// Works the mail of the inbox through, until none waits.
    async fn work_mail(&self) {
        let mut taken = None;
        loop {
            let _at_work = self.pulse.begins(Loop::Acting, std::time::Instant::now());
            let next = match taken.take() {
                Some(mail) => Ok(Some(mail)),
                None => self.store.write(|tx| tx.take_received()).await,
            };
            match next {
                // Whatever comes from now on wakes the loop.
                Ok(Some(mail)) => match self.work_one(mail).await {
                    Ok(None) => return,
                    Ok(next) => taken = next,
                    Err(PutBack) => {}
                },
                Ok(None) => return,
                Err(failed) => self.failed("taking a mail", &ServiceError::from(failed)).await,
            }
        }
    }

    /// Works a mail through. Takes the next one in the same transaction, where one waits: while many
    /// come, that spares each of them a wait for the disk.
    async fn work_one(&self, mail: TakenMail) -> Result<Option<TakenMail>, PutBack> {
        let (now, id) = (self.now().await, mail.id);
        let (mail, letter) = beside_if_long(mail.raw.len(), move || {
            let letter = letter::open(&mail.raw);
            (mail, letter)
        })
        .await;
        let work = move |office: &Office, tx: &mut Tx<'_>| {
            answers::work_through(office, tx, &mail, &letter, now)?;
            Ok(tx.take_received()?)
        };
        match self.act(work).await {
            Ok(next) => {
                // What is due waits for mail, so a flood of it is worked off before.
                self.pulse.advances(Loop::Acting, std::time::Instant::now());
                self.committed();
                Ok(next)
            }
            Err(failed) => {
                self.failed("working a mail through", &failed).await;
                // Until it is back in the queue nobody would begin it again before a restart.
                while let Err(failed) = self.store.write(move |tx| tx.put_received_back(id)).await {
                    self.failed("putting a mail back", &ServiceError::from(failed)).await;
                }
                Err(PutBack)
            }
        }
    }

    /// Does what is due now. Returns when the next thing is due.
    async fn act_on_due(&self) -> Result<Option<Instant>, ServiceError> {
        let begins = || self.pulse.begins(Loop::Acting, std::time::Instant::now());
        loop {
            let mut at_work = begins();
            let now = self.now().await;
            let office = Arc::clone(&self.office);
            let (next, crowd) = self
                .store
                .read(move |view| {
                    let next = due::next(&office, view)?;
                    Ok::<_, StoreError>((next, view.due_follow_ups(now, CROWD_MAX)?))
                })
                .await?;
            if next.is_none_or(|at| at > now) {
                return Ok(next);
            }
            let mut done = || {
                at_work = begins();
                self.pulse.advances(Loop::Acting, std::time::Instant::now());
                self.committed();
            };
            let batch = if crowd.len() < ahead::CROWD_FROM {
                let office = Arc::clone(&self.office);
                let batch = self.store.write(move |tx| due::act_on_due(&office, tx, now)).await?;
                if batch.follow_ups > 0 {
                    done();
                }
                batch
            } else {
                let now = || self.now();
                ahead::act_on_crowd(&self.store, &self.office, &crowd, now, done).await?
            };
            if let Some(follow_up) = batch.stuck.first().copied() {
                return Err(ServiceError::TurnsWithoutEnd { follow_up });
            }
            drawing::draw(&self.store, &self.office, batch.undrawn).await?;
        }
    }
}
