//! The loop that watches the others: it feeds the system's watchdog, notes what hinders the service
//! and has it told.
//!
//! Never here: how trouble is told (`telling`), what is worth telling (`ledger`).
//! Promises: the watchdog is fed only while due times, the outbox and the inbox all make progress; a
//! dead mail server is found out even while no mail moves. A full disk, a dead mail server or a queue
//! that is worked off slowly does not starve the watchdog: a new start would not mend it, and would end
//! the only one who tells of it.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use chrono::TimeDelta;
use sd_notify::NotifyState;
use tokio::sync::watch;
use tracing::{error, warn};

use super::clock::Clock;
use super::daily;
use super::ledger::{Area, Ledger};
use super::pulse::Loop;
use super::serve::Beside;
use super::shared::Shared;
use super::standing::{self, Standing};
use super::telling::{Ways, show_status};
use crate::care::Minutes;
use crate::follow_up;
use crate::notice::{MailTrouble, MailWay, ServiceTrouble, Waiting};
use crate::post::{Connectivity, Outcome, Outlet, Trouble};
use crate::store::{StoreError, View};

/// How the watching is paced.
#[derive(Clone, Copy, Debug)]
pub struct Rhythm {
    /// Between two looks, where no watchdog asks for more.
    pub every: Duration,
    /// How long mail or the disk may fail before it is told.
    pub lasting: Duration,
    /// How long no mail may have gone out before the way is tried without one.
    pub probe_after: Duration,
    /// How long one piece of work may take, and how long what is owed may wait while none is done.
    pub hanging: Duration,
    /// How long mail may wait though the way out is open before it is told.
    pub backlog: Duration,
}

impl Default for Rhythm {
    /// What the service goes by: a dead server is told of within nine minutes, a hanging loop is
    /// ended within a quarter of an hour (common practice, no source). A mail server may take ten
    /// minutes for one mail, by RFC 5321 (4.5.3.2), so mail may wait for as long.
    fn default() -> Self {
        Self {
            every: Duration::from_secs(60),
            lasting: Duration::from_secs(3 * 60),
            probe_after: Duration::from_secs(5 * 60),
            hanging: Duration::from_secs(15 * 60),
            backlog: Duration::from_secs(10 * 60),
        }
    }
}

/// What ends sooner is no outage: a server under load drops a connection now and then.
const OUTAGE_MIN: Duration = Duration::from_secs(60);

/// From so much on, a step of the clock is told.
const JUMP: TimeDelta = TimeDelta::seconds(90);

/// How mail to people goes at present; clones share it.
#[derive(Clone, Debug)]
pub struct WayOut {
    now: Arc<Mutex<Known>>,
}

/// What was learnt of the way out.
#[derive(Clone, Copy, Debug)]
struct Known {
    learnt: Instant,
    /// What is in the way, and since when.
    trouble: Option<(MailTrouble, Instant)>,
    /// When the last outage ended, or the service began.
    open_since: Instant,
}

impl WayOut {
    /// A way that nothing is known of yet.
    pub fn new() -> Self {
        let now = Instant::now();
        Self { now: Arc::new(Mutex::new(Known { learnt: now, trouble: None, open_since: now })) }
    }

    /// Learns from a mail that was tried.
    pub fn learn(&self, outcome: &Outcome) {
        match outcome {
            Outcome::Accepted { .. } => self.set(None),
            Outcome::Unreachable { trouble, .. } => self.set(in_mail(*trouble)),
            // RFC 4954: these speak of the login. 421: the server closes.
            Outcome::Refused(refusal) if matches!(refusal.code, 530 | 534 | 535 | 538) => {
                self.set(Some(MailTrouble::Login));
            }
            Outcome::Refused(refusal) if refusal.code == 421 => {
                self.set(Some(MailTrouble::NoAnswer));
            }
            // The server answers; what it says concerns one mail.
            Outcome::Refused(_) => self.set(None),
            Outcome::InDoubt { .. } => self.set(Some(MailTrouble::NoAnswer)),
        }
    }

    fn probed(&self, found: Result<(), Trouble>) {
        self.set(found.err().and_then(in_mail));
    }

    fn set(&self, trouble: Option<MailTrouble>) {
        let (mut known, now) =
            (self.now.lock().unwrap_or_else(PoisonError::into_inner), Instant::now());
        let begun = known.trouble.map_or(now, |(_, begun)| begun);
        if trouble.is_none() && now - begun >= OUTAGE_MIN {
            known.open_since = now;
        }
        (known.learnt, known.trouble) = (now, trouble.map(|trouble| (trouble, begun)));
    }

    /// Whether mail can go out, and could for so long before.
    fn is_open_for(&self, long: Duration, now: Instant) -> bool {
        let Known { trouble, open_since, .. } = self.known();
        trouble.is_none() && now.saturating_duration_since(open_since) >= long
    }

    fn known(&self) -> Known {
        *self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Default for WayOut {
    fn default() -> Self {
        Self::new()
    }
}

fn in_mail(trouble: Trouble) -> Option<MailTrouble> {
    match trouble {
        Trouble::NameLookup | Trouble::NotLoopback | Trouble::Connect | Trouble::Lost => {
            Some(MailTrouble::NoAnswer)
        }
        Trouble::Tls => Some(MailTrouble::Certificate),
        Trouble::Login => Some(MailTrouble::Login),
        Trouble::Folder | Trouble::Disk => Some(MailTrouble::Folder),
        Trouble::Protocol => Some(MailTrouble::Answer),
        // Our own store did not take it: that is the data's trouble.
        Trouble::NotTaken => None,
    }
}

/// Tries the way out, whenever nothing has been learnt of it for a while.
pub(super) async fn probe(way: WayOut, outlet: Outlet, rhythm: Rhythm) {
    loop {
        let Known { learnt, trouble, .. } = way.known();
        // While it is down the mails themselves are tried; where there are none, the probe is.
        let after = if trouble.is_some() { rhythm.every } else { rhythm.probe_after };
        let left = after.saturating_sub(learnt.elapsed());
        if left.is_zero() {
            way.probed(outlet.probe().await);
        } else {
            tokio::time::sleep(left).await;
        }
    }
}

/// Looks at everything, again and again.
pub(super) async fn watch(
    shared: Arc<Shared>,
    ways: Ways,
    connectivity: watch::Receiver<Connectivity>,
    board: Option<Beside>,
    rhythm: Rhythm,
) {
    let watchdog = sd_notify::watchdog_enabled();
    let every = watchdog.map_or(rhythm.every, |limit| (limit / 2).min(rhythm.every));
    let mut watcher = Watcher {
        ledger: Ledger::new(rhythm.lasting),
        jumped_at: None,
        left: None,
        shared,
        connectivity,
        board,
        rhythm,
        begun: Instant::now(),
    };
    let mut shown = 0;
    loop {
        let hangs = watcher.look().await;
        // Only where it is waited for: a message that nobody fetches blocks the next ones.
        if watchdog.is_some()
            && !hangs
            && let Err(refused) = sd_notify::notify(&[NotifyState::Watchdog])
        {
            warn!(error = %refused, "the service manager could not be told");
        }
        let count = watcher.ledger.count();
        if count != shown {
            show_status(count);
            shown = count;
        }
        let news = watcher.ledger.news(Instant::now());
        watcher.leave_word().await;
        if !news.is_empty() {
            let (ways, shared) = (ways.clone(), Arc::clone(&watcher.shared));
            // Apart, so that a server that does not answer holds no watching up.
            tokio::spawn(async move {
                ways.tell(news, shared.now().await).await;
                shared.committed();
            });
        }
        tokio::time::sleep(every).await;
    }
}

struct Watcher {
    shared: Arc<Shared>,
    ledger: Ledger,
    connectivity: watch::Receiver<Connectivity>,
    board: Option<Beside>,
    rhythm: Rhythm,
    begun: Instant,
    jumped_at: Option<Instant>,
    /// What other processes were left to read; none before the first time.
    left: Option<Vec<Standing>>,
}

impl Watcher {
    /// One look at everything. Returns whether a loop hangs.
    async fn look(&mut self) -> bool {
        let written = self.shared.remember_alive().await;
        self.look_at_step();
        self.note(Area::Data, written.err().and_then(|failed| of_data(&failed)));
        let (at, now) = (self.shared.clock.now(), Instant::now());
        let owed = self.shared.store.read(move |view| Owed::read(view, at)).await;
        // Where it cannot be read, that is the data's own trouble.
        let hangs = self.has_work_for_too_long(now)
            || owed.as_ref().is_ok_and(|owed| self.leaves_undone(owed, at, now));
        self.note(Area::Loops, hangs.then_some(ServiceTrouble::Hanging));
        if let Ok(owed) = owed {
            let is_held_up = owed.is_daily_held_up;
            self.note(Area::Daily, is_held_up.then_some(ServiceTrouble::DailyMessage));
            self.look_at_backlog(&owed, at, now).await;
        }
        let incoming = match &*self.connectivity.borrow() {
            Connectivity::Up => None,
            Connectivity::Down(outage) => in_mail(outage.trouble),
            // A server that takes the connection and never answers.
            Connectivity::Unknown => {
                let is_late = self.begun.elapsed() > self.rhythm.lasting;
                is_late.then_some(MailTrouble::NoAnswer)
            }
        };
        self.note(Area::MailIn, incoming.map(|why| ServiceTrouble::Mail(MailWay::In, why)));
        let outgoing = self.shared.way_out.known().trouble.map(|(what, _)| what);
        self.note(Area::MailOut, outgoing.map(|why| ServiceTrouble::Mail(MailWay::Out, why)));
        let board = self.board.as_ref().and_then(|board| *board.hindered.borrow());
        self.note(Area::Board, board);
        for (area, trouble) in self.shared.noted() {
            self.note(area, trouble);
        }
        hangs
    }

    /// Leaves what stands where `fadewatch health` finds it: where both mail and the second way are
    /// gone, that may be all that anybody sees.
    async fn leave_word(&mut self) {
        let told = self.ledger.told();
        if self.left.as_ref() == Some(&told) {
            return;
        }
        let (folder, standing) = (self.shared.store.folder().to_owned(), told.clone());
        let written =
            tokio::task::spawn_blocking(move || standing::write(&folder, &standing)).await;
        match written {
            Ok(Ok(())) => self.left = Some(told),
            // A full disk, most often, which shows by the sign of life that is missing as well.
            Ok(Err(failed)) => warn!(error = %failed, "what hinders the service was not left"),
            Err(_) => warn!("what hinders the service was not left"),
        }
    }

    fn note(&mut self, area: Area, trouble: Option<ServiceTrouble>) {
        self.ledger.note(area, trouble, self.shared.clock.now(), Instant::now());
    }

    /// Tells of a step of the clock, or of a machine that slept, and lets what was late by it be
    /// done first.
    fn look_at_step(&mut self) {
        let Some(step) = self.shared.take_step() else { return };
        if step.abs() < JUMP {
            return;
        }
        error!(seconds = step.num_seconds(), "the machine's clock jumped");
        let to_nearest = step.abs() + TimeDelta::seconds(30);
        let minutes = Minutes::new(u32::try_from(to_nearest.num_minutes()).unwrap_or(u32::MAX));
        let what = if step > TimeDelta::zero() {
            ServiceTrouble::ClockAhead(minutes)
        } else {
            ServiceTrouble::ClockBack(minutes)
        };
        self.note(Area::Clock, Some(what));
        self.jumped_at = Some(Instant::now());
    }

    /// Whether a loop has had one thing in hand for too long.
    fn has_work_for_too_long(&self, now: Instant) -> bool {
        let which = self.shared.pulse.hanging(self.rhythm.hanging, now);
        if let Some(which) = which {
            error!(?which, "a loop hangs; the watchdog is not fed");
        }
        which.is_some()
    }

    /// Whether what is due is left undone, and nothing else is done in its place.
    fn leaves_undone(&self, owed: &Owed, at: follow_up::Instant, now: Instant) -> bool {
        let most = self.rhythm.hanging;
        if !self.counts_waiting(most, now) {
            return false;
        }
        let is_late =
            |what: Option<follow_up::Instant>| what.is_some_and(|what| what < at - of(most));
        let pulse = &self.shared.pulse;
        // A long queue that is worked off would be as long after a new start.
        let due = is_late(owed.due) && !pulse.is_advancing(Loop::Acting, most, now);
        // Nor would a new start bring a mail server back.
        let outbox = is_late(owed.next_try)
            && self.shared.way_out.is_open_for(most, now)
            && !pulse.is_advancing(Loop::Sending, most, now);
        // Where nothing can be written, nothing can be done: that is the data's trouble too.
        let hangs = self.ledger.standing(Area::Data).is_none() && (due || outbox);
        if hangs {
            error!(due, outbox, "what is due is not done; the watchdog is not fed");
        }
        hangs
    }

    /// Notes mail that is late though the way out is open. While that is shut, and right after, what
    /// stood stands: it would be told as over, and be untrue.
    async fn look_at_backlog(&mut self, owed: &Owed, at: follow_up::Instant, now: Instant) {
        let most = self.rhythm.backlog;
        if !self.counts_waiting(most, now) {
            return;
        }
        // Over only when it is well over, so that a queue at the limit is not told to and fro.
        let stands = self.ledger.standing(Area::Backlog).is_some();
        let bearable = of(if stands { most / 2 } else { most });
        let waited = owed.next_try.map_or(TimeDelta::zero(), |next_try| at - next_try);
        if waited <= bearable {
            self.note(Area::Backlog, None);
        } else if self.shared.way_out.is_open_for(most, now)
            && let Ok(counts) = self.shared.store.read(|view| view.outbox_counts()).await
        {
            let mails = u32::try_from(counts.queued).unwrap_or(u32::MAX);
            let longest = Minutes::new(u32::try_from(waited.num_minutes()).unwrap_or(u32::MAX));
            self.note(Area::Backlog, Some(ServiceTrouble::Backlog(Waiting { mails, longest })));
        }
    }

    /// Whether something that has waited for so long says anything: not right after the start or a
    /// jump of the clock, when everything may be late at once; the loops have been woken.
    fn counts_waiting(&self, so_long: Duration, now: Instant) -> bool {
        let Clock::Real = self.shared.clock else { return false };
        let settling = self.jumped_at.is_some_and(|jumped| now - jumped < so_long);
        !settling && self.begun.elapsed() >= so_long
    }
}

/// What is to be done next, as the data has it.
#[derive(Debug)]
struct Owed {
    due: Option<follow_up::Instant>,
    next_try: Option<follow_up::Instant>,
    is_daily_held_up: bool,
}

impl Owed {
    fn read(view: &View<'_>, at: follow_up::Instant) -> Result<Self, StoreError> {
        Ok(Self {
            due: view.earliest_due()?,
            next_try: view.next_try()?,
            is_daily_held_up: daily::is_held_up(view, at)?,
        })
    }
}

fn of(so_long: Duration) -> TimeDelta {
    TimeDelta::from_std(so_long).unwrap_or(TimeDelta::MAX)
}

fn of_data(failed: &super::ServiceError) -> Option<ServiceTrouble> {
    match failed {
        super::ServiceError::Store(StoreError::Full { .. }) => Some(ServiceTrouble::Full),
        super::ServiceError::Store(StoreError::Damaged { .. }) => Some(ServiceTrouble::Damaged),
        _ => Some(ServiceTrouble::Data),
    }
}
