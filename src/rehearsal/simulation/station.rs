//! The service under the world's clock: the same acts as the running service, one transaction
//! after the other, each of which may be the last.
//!
//! ```text
//! mailbox ─▶ take in ─▶ work through ─▶ what is due ─▶ send ─▶ sleep
//! ```
//!
//! Never here: the acts themselves (`crate::service`), the checks.
//! Promises: between any two commits the process may be killed; what it had in memory is then
//! gone, and what it had committed is found again.

use chrono::TimeDelta;

use super::fault::Fault;
use super::ledger::{Posted, Step};
use super::trial::{Broken, Promise};
use super::world::{Happening, World, text};
use crate::follow_up::Instant;
use crate::post::Outcome as Sent;
use crate::reply::letter;
use crate::service::clock::{ClockWatch, Reading};
use crate::service::picturing::Commission;
use crate::service::taking::{Arrived, Placed};
use crate::service::{Office, ServiceError, answers, due, sending, set_back, taking, waking};
use crate::store::{
    ClaimedMail, Fullness, JournalSeq, MailboxMark, OutboxId, RememberedInstant, Solo, StoreError,
    TakenMail, Tx,
};

/// Mails that are claimed at once, as in the running service.
const SENDING_MAX: u32 = 8;
/// How long the service waits before it tries a failing store again. The running service waits
/// five seconds; a minute makes the same mistakes in fewer steps.
const AFTER_FAILURE: TimeDelta = TimeDelta::minutes(1);
/// Steps after which nothing new is looked for; what they should bring by mistake is found with
/// the next step.
const MOVES_NOTHING: &[&str] =
    &["takes mail in", "begins a mail", "puts a mail back", "claims mail", "notes that mail went"];
/// A letter is met by the service at most so often in one go, to notice what never ends.
const ROUNDS_MAX: u32 = 10_000;

/// Why the service stops in the middle of its work.
#[derive(Debug)]
pub(super) enum Halt {
    /// It was killed.
    Crashed,
    /// The disk is full.
    Full,
    /// A promise was broken.
    Broken(Broken),
}

/// A mail that was handed over, with what the server said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Heard {
    pub(super) mail: ClaimedMail,
    pub(super) outcome: Sent,
}

/// The service's process, with what it has in memory.
#[derive(Debug)]
pub(super) struct Station {
    store: Option<Solo>,
    pub(super) is_up: bool,
    /// Whether this run has woken up, and gives signs of life.
    has_woken: bool,
    /// Since when it runs.
    pub(super) up_since: Instant,
    /// How often it has started.
    pub(super) runs: u64,
    /// When its timer runs out.
    pub(super) wakes_at: Option<Instant>,
    /// What servers said that is not written down yet.
    pub(super) unsettled: Vec<Heard>,
    pub(super) is_full: bool,
    /// Since when there is room.
    pub(super) room_since: Instant,
    /// Time slept through on purpose.
    pub(super) leapt: TimeDelta,
    /// The steady clock's watch over the other one, from each start anew.
    clock_watch: ClockWatch,
    /// Letters that could not be put back in the queue yet.
    stuck: Vec<TakenMail>,
    last_mail: Option<OutboxId>,
    /// What the store was last seen to hold; none since it was last written to.
    glance: Option<Glance>,
    /// How often the store was written to.
    pub(super) writes: u64,
    /// The newest entry that was held against the record.
    pub(super) last_entry: Option<JournalSeq>,
}

/// What the service's loops look for in the store. One who has it for themselves need not look again
/// until they have written to it.
#[derive(Clone, Copy, Debug)]
struct Glance {
    /// When something is due.
    due: Option<Instant>,
    /// When mail is to be tried next, and when the last of it.
    next_try: Option<Instant>,
    last_try: Option<Instant>,
    /// Whether received mail waits to be worked through.
    mail_waits: bool,
}

/// What a commit gave, and whether anybody lived to hear it.
struct Committed<T> {
    value: T,
    heard: bool,
}

/// Why a transaction ended without a commit.
enum Undone {
    Crash,
    Service(ServiceError),
}

impl From<StoreError> for Undone {
    fn from(error: StoreError) -> Self {
        Self::Service(error.into())
    }
}

impl Station {
    pub(super) fn new(store: Solo) -> Self {
        Self {
            store: Some(store),
            is_up: false,
            has_woken: false,
            up_since: Instant::UNIX_EPOCH,
            runs: 0,
            wakes_at: None,
            unsettled: Vec::new(),
            is_full: false,
            room_since: Instant::UNIX_EPOCH,
            leapt: TimeDelta::zero(),
            clock_watch: ClockWatch::default(),
            stuck: Vec::new(),
            last_mail: None,
            glance: None,
            writes: 0,
            last_entry: None,
        }
    }

    /// The store, to be read.
    pub(super) fn view(&self) -> &Solo {
        self.store.as_ref().expect("OK because it is only away while it is opened anew")
    }

    /// The store, to be written to.
    pub(super) fn store(&mut self) -> &mut Solo {
        self.glance = None;
        self.writes += 1;
        self.store.as_mut().expect("OK because it is only away while it is opened anew")
    }
}

impl World<'_> {
    /// A letter reaches the mailbox.
    pub(super) fn arrive(&mut self, raw: Vec<u8>) {
        let uid = u32::try_from(self.ledger.posted.len()).unwrap_or(u32::MAX) + 1;
        let came_at = self.now;
        self.ledger.posted.push(Posted { uid, raw, came_at, confirmed: false, inbox: None });
    }

    /// The service starts: what the last run left is put right, waiting mail is worked through,
    /// and only then what came due meanwhile.
    pub(super) fn start(&mut self) -> Result<(), Halt> {
        if self.station.is_up {
            return Ok(());
        }
        self.station.is_up = true;
        self.station.up_since = self.now;
        self.station.clock_watch = ClockWatch::default();
        self.station.runs += 1;
        self.tell(|| "the service starts".to_owned());
        let away = match self.commit("begins", None, waking::begin) {
            // The process ends; whoever watches over it starts it again.
            Err(Halt::Full) => {
                self.station.is_up = false;
                self.at(self.now + AFTER_FAILURE, Happening::Start);
                return Err(Halt::Full);
            }
            begun => begun?,
        };
        let away = self.live_on(away)?;
        if away {
            self.take_in_all()?;
            self.work_all()?;
        }
        let woke = self.commit("wakes", None, waking::wake)?;
        self.live_on(woke)?;
        self.station.has_woken = true;
        self.pump()
    }

    /// Does all that can be done now, then sets the timer.
    pub(super) fn pump(&mut self) -> Result<(), Halt> {
        if !self.station.is_up {
            return Ok(());
        }
        match self.work() {
            Err(Halt::Full) => {
                self.at(self.now + AFTER_FAILURE, Happening::Wake);
                Ok(())
            }
            other => other,
        }
    }

    fn work(&mut self) -> Result<(), Halt> {
        // As in the running service, whether or not anything seems due by what the clock shows.
        self.watch_clock()?;
        for _ in 0..ROUNDS_MAX {
            self.put_back_stuck()?;
            self.settle_heard()?;
            self.take_in_all()?;
            let worked = self.work_all()?;
            let acted = self.act_on_due()?;
            let sent = self.send()?;
            if !worked && !acted && !sent {
                return self.sleep();
            }
        }
        Err(Halt::Broken(Broken::new(Promise::Working, "the service does not come to rest")))
    }

    fn sleep(&mut self) -> Result<(), Halt> {
        let Glance { due, next_try, .. } = self.glance()?;
        let skew = self.skew;
        let Some(at) = due.into_iter().chain(next_try).min().map(|at| at - skew) else {
            return Ok(());
        };
        let at = at.max(self.now + TimeDelta::milliseconds(1));
        if self.station.wakes_at.is_none_or(|set| set > at || set <= self.now) {
            self.station.wakes_at = Some(at);
            self.at(at, Happening::Wake);
        }
        Ok(())
    }

    /// What the store holds, by the last look at it where nothing was written since.
    fn glance(&mut self) -> Result<Glance, Halt> {
        if let Some(glance) = self.station.glance {
            return Ok(glance);
        }
        let glance = self
            .station
            .view()
            .read(|view| {
                Ok::<_, StoreError>(Glance {
                    due: view.earliest_due()?,
                    next_try: view.next_try()?,
                    last_try: view.last_try()?,
                    mail_waits: view.does_received_wait()?,
                })
            })
            .map_err(|error| Self::store_failed(&error))?;
        self.station.glance = Some(glance);
        Ok(glance)
    }

    /// Stores what lies in the mailbox, and confirms each letter only then.
    fn take_in_all(&mut self) -> Result<(), Halt> {
        for index in 0..self.ledger.posted.len() {
            let posted = &self.ledger.posted[index];
            if posted.confirmed {
                continue;
            }
            let mail = Arrived {
                raw: posted.raw.clone(),
                is_whole: true,
                received_at: Some(posted.came_at),
                mark: Some(MailboxMark { uid_validity: 1, uid: posted.uid }),
            };
            let placed = Placed::new("clinic", mail);
            let taken = self.commit("takes mail in", None, |office, tx, now| {
                taking::take_in(office, tx, &placed, now)
            })?;
            if let Some(id) = taken.value {
                let before = self.ledger.posted[index].inbox.replace(id);
                if before.is_some() {
                    let what = format!("letter {} was stored twice", index + 1);
                    return Err(Halt::Broken(Broken::new(Promise::Replies, what)));
                }
            }
            self.live_on(taken)?;
            self.ledger.posted[index].confirmed = true;
        }
        Ok(())
    }

    fn work_all(&mut self) -> Result<bool, Halt> {
        let mut any = false;
        loop {
            if !self.glance()?.mail_waits {
                return Ok(any);
            }
            let taken = self.commit("begins a mail", None, |_, tx, _| {
                tx.take_received().map_err(ServiceError::from)
            })?;
            let Some(taken) = self.live_on(taken)? else { return Ok(any) };
            any = true;
            let number = super::letters::number_of(&taken.raw);
            let letter = letter::open(&taken.raw);
            let step = Some((number, taken.id));
            let worked = self.commit("works a mail through", step, |office, tx, now| {
                answers::work_through(office, tx, &taken, &letter, now)
            });
            match worked {
                Ok(worked) => self.live_on(worked)?,
                Err(Halt::Full) => {
                    self.station.stuck.push(taken);
                    self.put_back_stuck()?;
                    return Err(Halt::Full);
                }
                Err(other) => return Err(other),
            }
        }
    }

    /// Puts letters back that could not be worked through. Until that is done, nobody else would.
    fn put_back_stuck(&mut self) -> Result<(), Halt> {
        while let Some(taken) = self.station.stuck.last() {
            let id = taken.id;
            let back = self.commit("puts a mail back", None, |_, tx, _| {
                tx.put_received_back(id).map_err(ServiceError::from)
            })?;
            self.station.stuck.pop();
            self.live_on(back)?;
        }
        Ok(())
    }

    fn act_on_due(&mut self) -> Result<bool, Halt> {
        let now = self.service_now();
        if self.glance()?.due.is_none_or(|due| due > now) {
            return Ok(false);
        }
        let acted = self.commit("acts on what is due", None, |office, tx, now| {
            due::act_on_due(office, tx, now)
        })?;
        let batch = self.live_on(acted)?;
        self.draw(&batch.undrawn)?;
        Ok(batch.follow_ups > 0)
    }

    fn send(&mut self) -> Result<bool, Halt> {
        let now = self.service_now();
        if sending::is_ahead(self.glance()?.last_try, now) {
            let hastened = self.commit("brings mail forward", None, |_, tx, now| {
                sending::hasten(tx, now).map_err(ServiceError::from)
            })?;
            self.live_on(hastened)?;
        }
        if self.glance()?.next_try.is_none_or(|next| next > now) {
            return Ok(false);
        }
        let claimed = self.commit("claims mail", None, |_, tx, now| {
            tx.claim_mail(now, SENDING_MAX).map_err(ServiceError::from)
        })?;
        let claimed = self.live_on(claimed)?;
        let any = !claimed.is_empty();
        for mail in claimed {
            let outcome = self.offer(&mail).map_err(Halt::Broken)?;
            if self.strikes(Fault::CrashAfterSend, 4) {
                self.excuse(&mail);
                return self.crash("after a mail was handed over");
            }
            let heard = Heard { mail, outcome };
            if self.strikes(Fault::SlowServer, 15) {
                let wait = TimeDelta::seconds(self.dice.faults.between(20, 600));
                let run = self.station.runs;
                self.at(self.now + wait, Happening::Hear(run, Box::new(heard)));
            } else {
                self.station.unsettled.push(heard);
            }
        }
        self.settle_heard()?;
        Ok(any)
    }

    /// Writes down what servers said; what cannot be written down yet is kept in memory.
    fn settle_heard(&mut self) -> Result<(), Halt> {
        while let Some(heard) = self.station.unsettled.first().cloned() {
            let doing = match heard.outcome {
                Sent::Accepted { .. } => "notes that mail went",
                _ => "notes how a mail went",
            };
            let settled = self.commit(doing, None, |office, tx, now| {
                sending::settle_mail(office, tx, &heard.mail, &heard.outcome, now)
            })?;
            self.station.unsettled.remove(0);
            self.live_on(settled)?;
        }
        Ok(())
    }

    /// Looks at the clock, as the running service does before each transaction.
    fn watch_clock(&mut self) -> Result<(), Halt> {
        let reading = self.reading();
        let Some(instead_of) = self.station.clock_watch.set_back(reading) else { return Ok(()) };
        let noted = self.transact("notes that the clock was set back", None, |office, tx, now| {
            set_back::noticed_at_once(office, tx, instead_of, now)
        });
        match noted {
            Ok(noted) => {
                self.station.clock_watch.settled(reading);
                self.set_back = None;
                self.live_on(noted)
            }
            // It is tried again at the next look at the clock.
            Err(Halt::Full) => Ok(()),
            Err(other) => Err(other),
        }
    }

    /// The world's time is the steady clock.
    fn reading(&self) -> Reading {
        Reading { shown: self.service_now(), steady: self.now - Instant::UNIX_EPOCH }
    }

    fn commit<T>(
        &mut self,
        doing: &'static str,
        worked: Option<(Option<usize>, crate::store::InboxId)>,
        work: impl Fn(&Office, &mut Tx<'_>, Instant) -> Result<T, ServiceError>,
    ) -> Result<Committed<T>, Halt> {
        self.watch_clock()?;
        self.transact(doing, worked, work)
    }

    /// Runs one transaction of the service, with what may go wrong around it.
    fn transact<T>(
        &mut self,
        doing: &'static str,
        worked: Option<(Option<usize>, crate::store::InboxId)>,
        work: impl Fn(&Office, &mut Tx<'_>, Instant) -> Result<T, ServiceError>,
    ) -> Result<Committed<T>, Halt> {
        let (office, now) = (self.office, self.service_now());
        let crash_before = self.strikes(Fault::CrashBeforeCommit, 3);
        let crash_after = self.strikes(Fault::CrashAfterCommit, 3);
        let result = loop {
            let result = self.station.store().write(|tx| {
                let value = work(office, tx, now).map_err(Undone::Service)?;
                if crash_before { Err(Undone::Crash) } else { Ok(value) }
            });
            match result {
                Err(Undone::Service(ServiceError::Undrawn(wanted))) => self.draw(&wanted)?,
                done => break done,
            }
        };
        match result {
            Ok(value) => {
                let step = Step {
                    doing,
                    worked: worked.and_then(|(number, _)| number),
                    inbox: worked.map(|(_, inbox)| inbox),
                    ..Step::default()
                };
                if !MOVES_NOTHING.contains(&doing) {
                    self.observe(step)?;
                }
                Ok(Committed { value, heard: !crash_after })
            }
            Err(Undone::Crash) => self.crash(doing),
            Err(Undone::Service(ServiceError::Store(StoreError::Full { .. })))
                if self.station.is_full =>
            {
                Err(Halt::Full)
            }
            Err(Undone::Service(error)) => {
                let what = format!("while it {doing}: {error} ({error:?})");
                Err(Halt::Broken(Broken::new(Promise::Working, what)))
            }
        }
    }

    /// Draws pictures beside the writer, as the running service does.
    fn draw(&mut self, wanted: &[Commission]) -> Result<(), Halt> {
        let office = self.office;
        let drawn = self.station.view().read(|view| {
            office.draw(view, wanted);
            Ok::<_, StoreError>(())
        });
        drawn.map_err(|error| Self::store_failed(&error))
    }

    /// Goes on with what a commit gave, if anybody lived to hear it.
    fn live_on<T>(&mut self, committed: Committed<T>) -> Result<T, Halt> {
        if committed.heard { Ok(committed.value) } else { self.crash("after a commit") }
    }

    /// Collects what a commit brought, and holds it against the record.
    fn observe(&mut self, mut step: Step) -> Result<(), Halt> {
        let refused = |error: StoreError| Self::store_failed(&error);
        let (last_entry, last_mail) = (self.station.last_entry, self.station.last_mail);
        let (entries, mails) = self
            .station
            .view()
            .read(|view| {
                let entries = view.journal_since(last_entry, u32::MAX)?;
                Ok::<_, StoreError>((entries, view.mails_since(last_mail)?))
            })
            .map_err(refused)?;
        self.station.last_entry = entries.last().map(|line| line.seq).or(self.station.last_entry);
        let ledger = &self.ledger;
        step.entries = entries
            .into_iter()
            .filter_map(|line| Some((ledger.client_of(line.follow_up)?, line)))
            .collect();
        step.mails = mails;
        self.station.last_mail = step.mails.last().map(|mail| mail.id).or(last_mail);
        self.took_step(&step).map_err(Halt::Broken)
    }

    fn crash<T>(&mut self, doing: &'static str) -> Result<T, Halt> {
        let off = if self.dice.faults.per_mille(100) {
            TimeDelta::minutes(self.dice.faults.between(3, 60))
        } else {
            TimeDelta::seconds(self.dice.faults.between(1, 60))
        };
        self.tell(|| format!("the service crashes ({doing})"));
        self.kill_for(off);
        Err(Halt::Crashed)
    }

    /// The service is off for a while.
    pub(super) fn kill(&mut self, planned: TimeDelta, doing: &str) {
        if !self.station.is_up || self.calm {
            return;
        }
        let leaps = planned.is_zero();
        let fault = if leaps { Fault::LeapToClockChange } else { Fault::Downtime };
        self.faults.count(fault);
        let off = self.off_time(planned);
        self.tell(|| format!("the service {doing} for {}", text(off)));
        self.kill_for(off);
    }

    fn kill_for(&mut self, off: TimeDelta) {
        // Signs of life are given from the waking on, so the last one is at most a minute old.
        if self.station.has_woken {
            let ago = TimeDelta::seconds(self.dice.faults.between(0, 60));
            // A step back is written down before any later sign of life.
            let reading = self.reading();
            let shown = self.station.clock_watch.set_back(reading).unwrap_or(reading.shown);
            let alive = (shown - ago).max(self.station.up_since + self.skew);
            let noted =
                self.station.store().write(|tx| tx.remember(RememberedInstant::LastAlive, alive));
            // On a full disk the sign of life may be older; that is no fault of the service.
            drop(noted);
        }
        // What was being sent may have gone or not; nobody knows any more.
        for heard in std::mem::take(&mut self.station.unsettled) {
            self.excuse(&heard.mail);
        }
        self.excuse_sending();
        self.station.stuck.clear();
        self.station.is_up = false;
        self.station.has_woken = false;
        self.station.wakes_at = None;
        self.office.begin_anew(self.trial.seed ^ (self.station.runs << 20));
        self.station.glance = None;
        if let Some(store) = self.station.store.take() {
            let reopened = store.killed().expect("OK because it was open a moment ago");
            self.station.store = Some(reopened);
            if self.station.is_full {
                // A disk stays full over a restart.
                let limited = self.station.store().set_full(Fullness::NoPageLeft);
                limited.expect("OK because a limit can always be set");
            }
        }
        self.at(self.now + off, Happening::Start);
    }

    /// The disk fills up.
    pub(super) fn fill(&mut self, lasting: TimeDelta) {
        if self.calm || self.station.is_full {
            return;
        }
        self.faults.count(Fault::DiskFull);
        self.tell(|| format!("the disk is full for {}", text(lasting)));
        self.station.is_full = true;
        let limited = self.station.store().set_full(Fullness::NoPageLeft);
        limited.expect("OK because a limit can always be set");
        self.at(self.now + lasting, Happening::Empty);
    }

    /// There is room again.
    pub(super) fn empty(&mut self) -> Result<(), Halt> {
        if self.station.is_full {
            self.tell(|| "there is room on the disk again".to_owned());
            self.station.is_full = false;
            self.station.room_since = self.now;
            let lifted = self.station.store().set_full(Fullness::Room);
            lifted.map_err(|error| Self::store_failed(&error))?;
        }
        self.pump()
    }

    /// The plan's file is edited, and its new version comes into use for clients to come.
    pub(super) fn edit_plan(&mut self) -> Result<(), Halt> {
        if self.calm || self.station.is_full {
            return Ok(());
        }
        self.faults.count(Fault::PlanEdited);
        self.tell(|| "the plan's file is edited".to_owned());
        let plan = super::cast::plan(&mut self.dice.faults);
        let (version, now) = (crate::config::plan_version(&plan), self.service_now());
        let added = self.station.store().write(|tx| tx.add_plan(&version, &plan, now));
        added.map_err(|error| Self::store_failed(&error))
    }

    /// What a letter says, as a person would read it.
    pub(super) fn words_of(raw: &[u8]) -> String {
        letter::open(raw).words.trim().replace('\n', " / ")
    }
}
