//! The loops: one that acts, one that takes mail in, one that sends, one that says it is alive.
//!
//! ```text
//! mailbox ─▶ taking ─▶ inbox ─▶ acting ─▶ outbox ─▶ sending ─▶ mail server
//!                      due times ──▲  ▲── bell (other processes)
//! ```
//!
//! Never here: what any act does.
//! Promises: nothing polls: each loop sleeps until its next due time, a bell or the stop signal.
//! A failing store or mail server is tried again, with the reason in the log, and ends nothing.

use std::collections::BTreeMap;
use std::future::Future;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::TimeDelta;
use sd_notify::NotifyState;
use tokio::sync::{self, Notify, mpsc, watch};
use tokio::task::JoinSet;
use tracing::{error, info, warn};

use super::clock::{Clock, ClockWatch, Step};
use super::error::ServiceError;
use super::ledger::Area;
use super::office::Office;
use super::pulse::{Loop, Pulse};
use super::taking::{self, Arrived, Placed};
use super::telling::Ways;
use super::watching::{Rhythm, WayOut};
use super::{answers, drawing, due, keeping, mail_clock, sending, set_back, waking, watching};
use crate::follow_up::Instant;
use crate::notice::ServiceTrouble;
use crate::post::inbox::{Arrival, Checkpoint, Extent, Inbox};
use crate::post::{Address, Connectivity, Outcome, Outlet};
use crate::reply::letter;
use crate::store::bell::Listener;
use crate::store::{ClaimedMail, MailboxMark, RememberedInstant, Store, Tx};

/// How long a loop waits before it tries a failing store again.
const AFTER_FAILURE: Duration = Duration::from_secs(5);
/// Mails that are being sent at once; the transport limits its connections on its own.
const SENDING_MAX: usize = 8;
/// After an absence, how long to wait for replies that lie in the mailbox before anything that
/// was due meanwhile is acted on: an answer that is there already must not be asked for again.
const WAITING_MAIL_MAX: Duration = Duration::from_secs(20);
/// How long the mailbox must be silent for its waiting mail to count as taken in.
const WAITING_MAIL_SILENCE: Duration = Duration::from_secs(2);
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

/// What the loops share.
pub(super) struct Shared {
    pub(super) office: Arc<Office>,
    pub(super) store: Store,
    pub(super) clock: Clock,
    clock_watch: sync::Mutex<ClockWatch>,
    pub(super) pulse: Pulse,
    pub(super) way_out: WayOut,
    /// Whether the absence before this run has been looked into.
    is_awake: AtomicBool,
    noted: Mutex<BTreeMap<Area, Option<ServiceTrouble>>>,
    /// By how much the clock was set on, or back, where nobody has been told of it.
    stepped: Mutex<Option<TimeDelta>>,
    to_act: Notify,
    to_send: Notify,
    committed: Arc<Notify>,
    /// Rung by what works beside the service; never where nothing does.
    acted_beside: Arc<Notify>,
    taken: Notify,
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
    let shared = Arc::new(Shared {
        office,
        store: store.clone(),
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
        acted_beside: board.as_ref().map(|board| Arc::clone(&board.acted)).unwrap_or_default(),
        taken: Notify::new(),
    });
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
        shared.send_until(stop, &outlet, tasks).await?;
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

impl Shared {
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

    /// Sends mail while the other loops run, until `stop` completes; then ends all of them.
    async fn send_until(
        self: &Arc<Self>,
        stop: impl Future<Output = ()>,
        outlet: &Outlet,
        mut others: JoinSet<()>,
    ) -> Result<(), ServiceError> {
        let (stop_sending, sending_stops) = watch::channel(false);
        let (shared, sender_outlet) = (Arc::clone(self), outlet.clone());
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

    /// Puts right what the last run left unfinished, and says whether the service was away.
    async fn begin(&self) -> Result<bool, ServiceError> {
        let now = self.now().await;
        self.act(move |office, tx| waking::begin(office, tx, now)).await
    }

    /// Takes in what waits in the mailbox and works it through, before anything that came due
    /// meanwhile is acted on.
    async fn wait_for_waiting_mail(&self, connectivity: &mut watch::Receiver<Connectivity>) {
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

    async fn wake(&self) {
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
            Ok(()) => self.committed(),
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

    /// Does an act, with its pictures drawn beside the writer.
    async fn act<T, F>(&self, act: F) -> Result<T, ServiceError>
    where
        T: Send + 'static,
        F: Fn(&Office, &mut Tx<'_>) -> Result<T, ServiceError> + Send + Sync + 'static,
    {
        drawing::write(&self.store, &self.office, act).await
    }

    pub(super) fn committed(&self) {
        self.to_send.notify_one();
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

/// Acts on mail first, then on what is due, then waits for more of either.
async fn acting(shared: &Shared, bell: &Listener) {
    loop {
        while shared.work_one_mail().await {}
        let next_due = match shared.act_on_due().await {
            Ok(next_due) => next_due,
            Err(failed) => {
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

/// Stores each arriving mail, and only then confirms it to the mail server.
async fn take_in(shared: &Shared, mut arriving: mpsc::Receiver<Arrival>, mailbox: &str) {
    while let Some(arrival) = arriving.recv().await {
        let _at_work = shared.pulse.begins(Loop::Taking, std::time::Instant::now());
        let Arrival { raw, extent, received_at, place, taken } = arrival;
        let mark = place
            .checkpoint()
            .map(|at| MailboxMark { uid_validity: at.uid_validity, uid: at.last_uid });
        let received_at = shared.clock.dated(received_at);
        let lay_waiting = !shared.is_awake.load(Ordering::Relaxed);
        let is_whole = extent == Extent::Whole;
        let mail = Arrived { raw, is_whole, received_at, lay_waiting, mark };
        let (office, name, now) =
            (Arc::clone(&shared.office), mailbox.to_owned(), shared.now().await);
        let placed = beside(move || Placed::new(&name, mail)).await;
        let stored = shared
            .store
            .write(move |tx| taking::take_in(&office, tx, &placed, now).map(|_| ()))
            .await;
        match stored {
            // The receiver may be gone when the service stops: the mail is met again then, and
            // known again.
            Ok(()) => drop(taken.send(())),
            Err(failed) => shared.failed("storing a mail", &failed).await,
        }
        shared.taken.notify_one();
        shared.to_act.notify_one();
    }
}

/// Sends what waits in the outbox, the most urgent first, a few at a time.
async fn send_out(shared: &Arc<Shared>, outlet: &Outlet, mut stops: watch::Receiver<bool>) {
    let mut under_way = JoinSet::new();
    loop {
        let next_try = if *stops.borrow() {
            None
        } else {
            match start_sending(shared, outlet, &mut under_way).await {
                Ok(next_try) => next_try,
                Err(failed) => {
                    shared.failed("sending mail", &failed).await;
                    continue;
                }
            }
        };
        if *stops.borrow() && under_way.is_empty() {
            return;
        }
        // With all places taken, the next ending is waited for instead.
        let has_room = under_way.len() < SENDING_MAX;
        let until_next = async {
            match next_try.filter(|_| has_room) {
                Some(at) => shared.clock.sleep_until(at).await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            () = until_next => {}
            () = shared.to_send.notified() => {}
            Some(_) = under_way.join_next() => {}
            _ = stops.changed() => {}
        }
    }
}

/// Claims mail for the free places and starts sending it. Returns when the next is to be tried.
async fn start_sending(
    shared: &Arc<Shared>,
    outlet: &Outlet,
    under_way: &mut JoinSet<()>,
) -> Result<Option<Instant>, ServiceError> {
    let _at_work = shared.pulse.begins(Loop::Sending, std::time::Instant::now());
    while under_way.try_join_next().is_some() {}
    let room = SENDING_MAX.saturating_sub(under_way.len());
    let now = shared.now().await;
    if shared.store.read(move |view| sending::is_mail_ahead(view, now)).await? {
        let hastened = shared.store.write(move |tx| sending::hasten(tx, now)).await?;
        warn!(hastened, "the clock was set back; waiting mail goes out now");
    }
    if room > 0 {
        let limit = u32::try_from(room).unwrap_or(1);
        let waits = shared.store.read(|view| view.next_try()).await?.is_some_and(|at| at <= now);
        let claimed = if waits {
            shared.store.write(move |tx| tx.claim_mail(now, limit)).await?
        } else {
            Vec::new()
        };
        for mail in claimed {
            let (shared, outlet) = (Arc::clone(shared), outlet.clone());
            under_way.spawn(async move { send_one(&shared, &outlet, mail).await });
        }
    }
    Ok(shared.store.read(|view| view.next_try()).await?)
}

async fn send_one(shared: &Shared, outlet: &Outlet, mail: ClaimedMail) {
    let addresses = (Address::parse(&mail.mail.sender), Address::parse(&mail.mail.address));
    let outcome = match addresses {
        (Ok(sender), Ok(recipient)) => outlet.send(&sender, &recipient, &mail.mail.raw).await,
        _ => Outcome::Unreachable {
            trouble: crate::post::Trouble::Protocol,
            why: "an address in the outbox cannot be read".to_owned(),
        },
    };
    shared.way_out.learn(&outcome);
    if let Outcome::Refused(refusal) = &outcome {
        warn!(outbox = mail.id.number(), code = refusal.code, "a mail was refused");
    }
    if let Outcome::Unreachable { trouble, .. } = &outcome {
        warn!(outbox = mail.id.number(), %trouble, "a mail could not be handed over");
    }
    let mail = Arc::new(mail);
    loop {
        let (now, noted, outcome) = (shared.now().await, Arc::clone(&mail), outcome.clone());
        let settled = shared
            .act(move |office, tx| sending::settle_mail(office, tx, &noted, &outcome, now))
            .await;
        match settled {
            Ok(()) => break,
            // Until it is noted the mail counts as being sent; a restart would send it again.
            Err(failed) => shared.failed("noting how a mail went", &failed).await,
        }
    }
    shared.to_act.notify_one();
    shared.committed();
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

fn tell_system(states: &[NotifyState<'_>]) {
    if let Err(refused) = sd_notify::notify(states) {
        warn!(error = %refused, "the service manager could not be told");
    }
}
