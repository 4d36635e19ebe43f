//! The simulated world: its clock, its agenda, and the run from the first day to the last.
//!
//! Faults on: nothing wrong may happen. Then some calm days: everything owed must be finished.
//!
//! Never here: what the service does at an instant (`station`), what people do (`people`).
//! Promises: one thread, one seed, one order of events; the same trial runs the same way again.

use chrono::{Days, TimeDelta};

use super::agenda::Agenda;
use super::cast::Cast;
use super::dice::Dice;
use super::fault::{Fault, FaultCounts};
use super::ledger::{ClientFacts, Ledger};
use super::mishaps::{self, Mishap};
use super::people::Delivered;
use super::station::{Heard, Station};
use super::transactions::Halt;
use super::trial::{Broken, Medium, Outcome, Promise, Trial};
use crate::follow_up::{Calendar, Instant};
use crate::service::{Office, enrolling};
use crate::store::{Solo, StoreError};

/// Calm days after the last day of trouble: enough for everything owed, a daily one included.
const CALM_DAYS: i64 = 2;

/// Something that is to happen in the world.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Happening {
    /// A mail of the service reaches its reader.
    Read(Box<Delivered>),
    /// A letter reaches the clinic's mailbox.
    Post(Vec<u8>),
    /// The service's timer runs out.
    Wake,
    /// A slow mail server's answer is heard, by the run of the service that waits for it.
    Hear(u64, Box<Heard>),
    /// The service starts.
    Start,
    /// Trouble that comes once in a while.
    Befall(Mishap),
    /// There is room on the disk again.
    Empty,
    /// A look at what is owed.
    Audit,
}

/// The dice of a run, one pair for each purpose.
#[derive(Debug)]
pub(super) struct AllDice {
    pub(super) people: Dice,
    pub(super) servers: Dice,
    pub(super) faults: Dice,
}

/// The world of one run.
pub(super) struct World<'o> {
    pub(super) trial: Trial,
    pub(super) office: &'o Office,
    pub(super) cast: Cast,
    pub(super) dice: AllDice,
    pub(super) now: Instant,
    /// How far the service's clock is ahead.
    pub(super) skew: TimeDelta,
    /// The last time that the clock was set back, and by how much, until the running service has
    /// noticed it.
    pub(super) set_back: Option<(Instant, TimeDelta)>,
    /// Whether the clock was ever set back.
    pub(super) was_set_back: bool,
    pub(super) calm: bool,
    pub(super) station: Station,
    pub(super) cut_off_until: Option<Instant>,
    pub(super) ledger: Ledger,
    pub(super) faults: FaultCounts,
    pub(super) story: Option<Vec<String>>,
    agenda: Agenda<Happening>,
}

/// Runs a trial. The office must be of a clinic with as many clinicians as the seed draws.
pub(super) fn run(trial: Trial, office: &Office, cast: Cast, tells: bool) -> Outcome {
    let folder = match trial.medium {
        Medium::Memory => None,
        Medium::Disk => tempfile::tempdir().ok(),
    };
    let store = match &folder {
        Some(folder) => Solo::open(folder.path()),
        None => Solo::in_memory(),
    };
    let zone = cast.clients[0].time_zone.as_str();
    let calendar = Calendar::new(zone).expect("OK because the zones are known");
    let begin = calendar.midnight(cast.begins) - TimeDelta::hours(2);
    let store = store.expect("OK because an empty store opens wherever there is room");
    office.begin_anew(trial.seed);
    let mut world = World {
        trial,
        office,
        dice: AllDice {
            people: Dice::new(trial.seed, 2),
            servers: Dice::new(trial.seed, 3),
            faults: Dice::new(trial.seed, 4),
        },
        now: begin,
        skew: TimeDelta::zero(),
        set_back: None,
        was_set_back: false,
        calm: false,
        station: Station::new(store),
        cut_off_until: None,
        ledger: Ledger::default(),
        faults: FaultCounts::default(),
        story: tells.then(Vec::new),
        agenda: Agenda::default(),
        cast,
    };
    let broken = world.live(&calendar).err();
    let follow_ups = world.ledger.clients.len() as u64;
    let days = u64::try_from((world.now - begin).num_days().max(0)).unwrap_or(0);
    let away = u64::try_from(world.station.leapt.num_days().max(0)).unwrap_or(0);
    Outcome {
        broken: broken.map(|broken| (world.now, broken)),
        faults: world.faults,
        follow_ups,
        follow_up_days: follow_ups * days.saturating_sub(away),
        mails: world.ledger.notices.values().map(|notice| u64::from(notice.offered)).sum(),
        replies: world.ledger.worked.values().map(|times| u64::from(*times)).sum(),
        alerts: world.ledger.alerts,
        advances: world.ledger.advances,
        story: world.story.unwrap_or_default(),
    }
}

impl World<'_> {
    fn live(&mut self, calendar: &Calendar) -> Result<(), Broken> {
        self.enroll()?;
        self.plan_faults();
        self.at(self.now, Happening::Start);
        self.at(self.now + TimeDelta::hours(1), Happening::Audit);
        let last_day = self.cast.begins + Days::new(u64::from(self.trial.days));
        let mut end = calendar.midnight(last_day);
        self.happen_until(&mut end)?;
        self.become_calm();
        let mut end = self.now + TimeDelta::days(CALM_DAYS);
        self.happen_until(&mut end)?;
        self.check_everything_is_finished()?;
        self.check_journal()
    }

    fn happen_until(&mut self, end: &mut Instant) -> Result<(), Broken> {
        while let Some((at, what)) = self.agenda.take_before(*end) {
            self.now = self.now.max(at);
            let leapt = self.station.leapt;
            match self.happen(what) {
                Ok(()) | Err(Halt::Crashed | Halt::Full) => {}
                Err(Halt::Broken(broken)) => return Err(broken),
            }
            // What is slept through is not counted as days of the run.
            *end += self.station.leapt - leapt;
        }
        self.now = *end;
        Ok(())
    }

    fn happen(&mut self, what: Happening) -> Result<(), Halt> {
        match what {
            Happening::Read(notice) => {
                self.read(&notice);
                Ok(())
            }
            Happening::Post(raw) => {
                self.arrive(raw);
                self.pump()
            }
            Happening::Wake => {
                if self.station.wakes_at.is_some_and(|at| at <= self.now) {
                    self.station.wakes_at = None;
                }
                self.pump()
            }
            Happening::Hear(run, heard) => {
                if run == self.station.runs && self.station.is_up {
                    self.station.unsettled.push(*heard);
                    return self.pump();
                }
                Ok(())
            }
            Happening::Start => self.start(),
            Happening::Befall(mishap) => self.befall(mishap),
            Happening::Empty => self.empty(),
            Happening::Audit => {
                self.at(self.now + TimeDelta::hours(1), Happening::Audit);
                self.audit().map_err(Halt::Broken)
            }
        }
    }

    /// Puts something on the agenda.
    pub(super) fn at(&mut self, at: Instant, what: Happening) {
        self.agenda.put(at, what);
    }

    /// Tells something, where the run is to be told.
    pub(super) fn tell(&mut self, what: impl FnOnce() -> String) {
        if let Some(story) = &mut self.story {
            story.push(format!("{}  {}", self.now.format("%Y-%m-%d %H:%M:%S"), what()));
        }
    }

    /// The time by the service's clock.
    pub(super) fn service_now(&self) -> Instant {
        self.now + self.skew
    }

    /// Whether a kind of trouble strikes, where it is on and the world is not calm yet.
    pub(super) fn strikes(&mut self, fault: Fault, per_mille: u64) -> bool {
        // The dice are thrown in any case, so that a fault taken away changes nothing else.
        let falls = self.dice.faults.per_mille(per_mille);
        let strikes = falls && !self.calm && self.trial.faults.has(fault);
        if strikes {
            self.faults.count(fault);
        }
        strikes
    }

    fn enroll(&mut self) -> Result<(), Broken> {
        for file in self.cast.clients.clone() {
            let (office, now) = (self.office, self.service_now());
            let enrolled = self
                .station
                .store()
                .write(|tx| enrolling::enroll(office, tx, &file, "simulation", now));
            let enrolled = enrolled.map_err(|error| {
                Broken::new(Promise::Working, format!("a client cannot be enrolled: {error}"))
            })?;
            // The enrolment itself, and the hours of each contact who has any.
            let with_hours = file.contacts.iter().filter(|contact| !contact.asked.is_any()).count();
            let mut facts = ClientFacts::new(enrolled.follow_up, file);
            facts.entries = 1 + with_hours as u64;
            self.ledger.clients.push(facts);
        }
        let enrolled = self.station.view().read(|view| view.journal_since(None, u32::MAX));
        let enrolled = enrolled.map_err(|error: StoreError| {
            Broken::new(Promise::Journal, format!("the journal cannot be read: {error}"))
        })?;
        self.station.last_entry = enrolled.last().map(|line| line.seq);
        for line in &enrolled {
            if let Some(client) = self.ledger.client_of(line.follow_up) {
                self.ledger.clients[client].add_up(line);
            }
        }
        Ok(())
    }

    fn plan_faults(&mut self) {
        for (at, mishap) in mishaps::planned(&mut self.dice.faults, self.trial, self.now) {
            self.at(at, Happening::Befall(mishap));
        }
    }

    fn become_calm(&mut self) {
        self.tell(|| "calm from here on: no more trouble".to_owned());
        self.calm = true;
        self.turn_clock_to(TimeDelta::zero());
        self.cut_off_until = None;
        self.at(self.now, Happening::Empty);
        self.at(self.now, Happening::Start);
    }

    /// A step in one transaction that is no part of the service itself.
    pub(super) fn store_failed(error: &StoreError) -> Halt {
        Halt::Broken(Broken::new(Promise::Working, format!("the store refuses: {error}")))
    }
}

/// A duration for people.
pub(super) fn text(lasting: TimeDelta) -> String {
    let minutes = lasting.num_minutes();
    match minutes {
        0..120 => format!("{minutes} min"),
        120..2880 => format!("{} h {} min", minutes / 60, minutes % 60),
        _ => format!("{} days", lasting.num_days()),
    }
}
