//! The transactions of the simulated service: the world's clock is watched before each, the process
//! may be killed around each, and each is held against the record.
//!
//! Never here: in what order the service does its acts (`station`), the checks themselves.
//! Promises: what a commit gave is only used by a process that lived to hear of it.

use super::fault::Fault;
use super::ledger::Step;
use super::trial::{Broken, Promise};
use super::world::World;
use crate::follow_up::Instant;
use crate::service::clock::{Reading, Step as ClockStep};
use crate::service::picturing::Commission;
use crate::service::{Office, ServiceError, mail_clock, set_back};
use crate::store::{StoreError, Tx};

/// Steps after which nothing new is looked for; what they should bring by mistake is found with
/// the next step.
const MOVES_NOTHING: &[&str] =
    &["takes mail in", "begins a mail", "puts a mail back", "claims mail", "notes that mail went"];

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

/// What a commit gave, and whether anybody lived to hear it.
pub(super) struct Committed<T> {
    pub(super) value: T,
    pub(super) heard: bool,
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

impl World<'_> {
    /// Looks at the clock, as the running service does before each transaction.
    pub(super) fn watch_clock(&mut self) -> Result<(), Halt> {
        let reading = self.reading();
        while let Some(step) = self.station.clock_watch.step(reading) {
            let doing = match step {
                ClockStep::Back { .. } => "notes that the clock was set back",
                ClockStep::On { .. } => "notes that the clock was set on",
            };
            let noted = self.transact(doing, None, |office, tx, now| match step {
                ClockStep::Back { instead_of } => {
                    set_back::noticed_at_once(office, tx, instead_of, now)
                }
                ClockStep::On { by } => Ok(mail_clock::may_be_ahead_by_more(tx, by)?),
            });
            let noted = match noted {
                // It is tried again at the next look at the clock.
                Err(Halt::Full) => return Ok(()),
                noted => noted?,
            };
            self.station.clock_watch.settled(step, reading);
            if matches!(step, ClockStep::Back { .. }) {
                self.set_back = None;
            }
            self.live_on(noted)?;
        }
        Ok(())
    }

    /// The world's time is the steady clock.
    pub(super) fn reading(&self) -> Reading {
        Reading { shown: self.service_now(), steady: self.now - Instant::UNIX_EPOCH }
    }

    pub(super) fn commit<T>(
        &mut self,
        doing: &'static str,
        worked: Option<(Option<usize>, crate::store::InboxId)>,
        work: impl Fn(&Office, &mut Tx<'_>, Instant) -> Result<T, ServiceError>,
    ) -> Result<Committed<T>, Halt> {
        self.watch_clock()?;
        self.transact(doing, worked, work)
    }

    /// Runs one transaction of the service, with what may go wrong around it.
    pub(super) fn transact<T>(
        &mut self,
        doing: &'static str,
        worked: Option<(Option<usize>, crate::store::InboxId)>,
        work: impl Fn(&Office, &mut Tx<'_>, Instant) -> Result<T, ServiceError>,
    ) -> Result<Committed<T>, Halt> {
        let (office, now) = (self.office, self.service_now());
        let crash_before = self.strikes(Fault::CrashBeforeCommit, 3);
        let crash_after = self.strikes(Fault::CrashAfterCommit, 3);
        let glance = self.station.glance.after(doing);
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
                self.station.glance = glance;
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
    pub(super) fn draw(&mut self, wanted: &[Commission]) -> Result<(), Halt> {
        let office = self.office;
        let drawn = self.station.view().read(|view| {
            office.draw(view, wanted);
            Ok::<_, StoreError>(())
        });
        drawn.map_err(|error| Self::store_failed(&error))
    }

    /// Goes on with what a commit gave, if anybody lived to hear it.
    pub(super) fn live_on<T>(&mut self, committed: Committed<T>) -> Result<T, Halt> {
        if committed.heard { Ok(committed.value) } else { self.crash("after a commit") }
    }

    /// Collects what a commit brought, and holds it against the record.
    pub(super) fn observe(&mut self, mut step: Step) -> Result<(), Halt> {
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
}
