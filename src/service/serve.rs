//! The running service as a whole: its loops are started, ended in order, and watched for ending by
//! themselves.
//!
//! Never here: the loops, what any act does.
//! Promises: a failing store or mail server ends nothing; a loop that ends by a bug of ours ends the
//! process visibly.

use std::future::Future;
use std::sync::Arc;
use std::time::Duration;

use sd_notify::NotifyState;
use tokio::sync::{Notify, mpsc, watch};
use tokio::task::JoinSet;
use tracing::{error, info, warn};

use super::clock::Clock;
use super::error::ServiceError;
use super::loops::{acting, send_out, take_in};
use super::office::Office;
use super::shared::Shared;
use super::telling::Ways;
use super::watching::Rhythm;
use super::{keeping, watching};
use crate::notice::ServiceTrouble;
use crate::post::inbox::{Checkpoint, Inbox};
use crate::post::{Connectivity, Outlet};
use crate::store::Store;
use crate::store::bell::Listener;

/// When stopping, how long to wait for mail servers that have a mail of ours in hand. A mail that
/// is left then goes out again at the next start, under its Message-ID; a service manager would
/// soon end the process anyway (systemd after 90 s).
const STOPPING_MAX: Duration = Duration::from_secs(20);

/// Everything that a running service holds.
#[derive(Debug)]
pub struct Service {
    /// The clinic's office.
    pub office: Arc<Office>,
    /// The store, opened for the service.
    pub store: Store,
    /// The clock.
    pub clock: Clock,
    /// The way out for mail.
    pub outlet: Outlet,
    /// The way in for mail.
    pub inbox: Inbox,
    /// The name under which the store keeps how far the mailbox was read.
    pub mailbox: String,
    /// Another way out for mail, for when the first is the trouble.
    pub second_outlet: Option<Outlet>,
    /// How the watching is paced.
    pub rhythm: Rhythm,
    /// The board, where there is one.
    pub board: Option<Beside>,
    /// Rung after each commit that may interest a watcher, such as the demo or the board.
    pub committed: Arc<Notify>,
}

/// What works beside the service in its process, with the same store: the board.
#[derive(Clone, Debug)]
pub struct Beside {
    /// What hinders it, as it says itself.
    pub hindered: watch::Receiver<Option<ServiceTrouble>>,
    /// Rung after each of its commits.
    pub acted: Arc<Notify>,
}

/// Runs the service until `stop` completes, then finishes what is under way.
///
/// # Errors
/// When the service cannot start: the store cannot be read, or the bell cannot be hung.
pub async fn serve(
    service: Service,
    stop: impl Future<Output = ()> + Send,
) -> Result<(), ServiceError> {
    let Service {
        office,
        store,
        clock,
        outlet,
        inbox,
        mailbox,
        second_outlet,
        rhythm,
        board,
        committed,
    } = service;
    let bell = Listener::of(&store)?;
    let acted_beside = board.as_ref().map(|board| Arc::clone(&board.acted)).unwrap_or_default();
    let shared = Arc::new(Shared::new(office, store.clone(), clock, committed, acted_beside));
    let away = shared.begin().await?;
    let mark = {
        let mailbox = mailbox.clone();
        store.read(move |view| view.mailbox_mark(&mailbox)).await?
    };
    let (arrivals, arriving) = mpsc::channel(1);
    let (health, mut connectivity) = watch::channel(Connectivity::Unknown);
    let mut tasks = JoinSet::new();
    let from = mark.map(|mark| Checkpoint { uid_validity: mark.uid_validity, last_uid: mark.uid });
    tasks.spawn(async move { inbox.run(from, arrivals, health).await });
    let shared_taking = Arc::clone(&shared);
    tasks.spawn(async move { take_in(&shared_taking, arriving, &mailbox).await });
    // Before waking up, which waits for as long as nothing can be written: somebody must tell of it.
    let ways = Ways {
        office: Arc::clone(&shared.office),
        store: store.clone(),
        outlet: outlet.clone(),
        second: second_outlet,
    };
    tasks.spawn(watching::watch(Arc::clone(&shared), ways, connectivity.clone(), board, rhythm));
    tasks.spawn(watching::probe(shared.way_out.clone(), outlet.clone(), rhythm));
    tokio::pin!(stop);
    let waking = async {
        if away {
            shared.wait_for_waiting_mail(&mut connectivity).await;
        }
        shared.wake().await;
    };
    let is_stopped = tokio::select! {
        () = &mut stop => true,
        () = waking => false,
    };
    if is_stopped {
        tasks.shutdown().await;
    } else {
        let shared_acting = Arc::clone(&shared);
        tasks.spawn(async move { acting(&shared_acting, &bell).await });
        tasks.spawn(keeping::daily_messages(Arc::clone(&shared)));
        tasks.spawn(keeping::upkeep(Arc::clone(&shared)));
        tasks.spawn(async move { log_connectivity(connectivity).await });
        send_until(&shared, stop, &outlet, tasks).await?;
        // Not when stopped before: the absence is still to be told.
        if let Err(failed) = shared.remember_alive().await {
            error!(error = %failed, "the sign of life could not be written");
        }
    }
    if tokio::task::spawn_blocking(move || store.close()).await.is_err() {
        warn!("the store was not closed");
    }
    Ok(())
}

/// Sends mail while the other loops run, until `stop` completes; then ends all of them.
async fn send_until(
    shared: &Arc<Shared>,
    stop: impl Future<Output = ()>,
    outlet: &Outlet,
    mut others: JoinSet<()>,
) -> Result<(), ServiceError> {
    let (stop_sending, sending_stops) = watch::channel(false);
    let (shared, sender_outlet) = (Arc::clone(shared), outlet.clone());
    let mut sender = tokio::spawn(async move {
        send_out(&shared, &sender_outlet, sending_stops).await;
    });
    tell_system(&[NotifyState::Ready]);
    info!("the service runs");

    // No loop ends by itself. If one does, by a bug of ours, the others must not go on as if
    // all were well: the process ends visibly and is started anew.
    let is_broken = tokio::select! {
        () = stop => false,
        _ = others.join_next() => true,
        _ = &mut sender => true,
    };
    if is_broken {
        error!("a loop of the service ended by itself");
        sender.abort();
        others.shutdown().await;
        return Err(ServiceError::LoopEnded);
    }
    info!("the service stops");
    tell_system(&[NotifyState::Stopping]);
    // What is being written is finished by the writer thread; nothing half-done is lost by
    // dropping a loop, since every act is one transaction.
    others.shutdown().await;
    // What was handed to a mail server is waited for, so that its answer is noted.
    stop_sending.send_replace(true);
    let under_way = async {
        if sender.await.is_err() {
            warn!("the sending loop ended early");
        }
        outlet.drained().await;
    };
    if tokio::time::timeout(STOPPING_MAX, under_way).await.is_err() {
        warn!("a mail server keeps a mail in hand; it goes out again at the next start");
    }
    Ok(())
}

async fn log_connectivity(mut connectivity: watch::Receiver<Connectivity>) {
    while connectivity.changed().await.is_ok() {
        match &*connectivity.borrow_and_update() {
            Connectivity::Unknown => {}
            Connectivity::Up => info!("the mailbox is watched"),
            Connectivity::Down(outage) => {
                warn!(failures = outage.failures, trouble = %outage.trouble, "the mailbox is out of reach");
            }
        }
    }
}

fn tell_system(states: &[NotifyState<'_>]) {
    if let Err(refused) = sd_notify::notify(states) {
        warn!(error = %refused, "the service manager could not be told");
    }
}
