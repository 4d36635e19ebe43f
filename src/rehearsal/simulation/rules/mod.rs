//! The rules alone under trouble: the core, with people who answer in readings instead of words,
//! and a post that loses, delays, doubles and reorders what is asked and what is said. No store and
//! no mail, so that it goes through some thirty times as many days as the whole depth.
//!
//! Kinds of trouble that mean nothing here and never strike: a crash after sending, a slow server, a
//! report of delay, a misquoted reply, a stranger. A refusal of us is one for now; a lost token is
//! the wrong person's; a full disk is a time in which nothing is done.
//!
//! Of the checks, those of the store and of mail itself have no meaning here: the journal's chain,
//! mail that waits or is doubled, and replies that are lost or counted twice (promise 4). Of promise
//! 6 there is what `checks` beside this file holds.
//!
//! Never here: words, mail, SQL; rules.
//! Promises: the core is driven in the order in which the service drives it; one thread, one seed,
//! one order of events.

mod acts;
mod checks;
mod enrolling;
mod mishaps;
mod post;
mod process;

use std::collections::VecDeque;

use chrono::{Days, TimeDelta};

use super::agenda::Agenda;
use super::cast::{Cast, Habit};
use super::dice::Dice;
use super::fault::{Fault, FaultCounts};
use super::ledger::Ledger;
use super::mishaps::{self as troubles, Mishap};
use super::transactions::Halt;
use super::trial::{Broken, Outcome, Trial};
use crate::care::{ClinicianId, ContactId, Plan, PlanVersion};
use crate::follow_up::{Calendar, Entry, Instant, State};
use post::{Letter, Mail};
use process::Process;

/// Calm days after the last day of trouble, as at the whole depth.
const CALM_DAYS: i64 = 2;

/// Something that is to happen.
#[derive(Debug)]
enum Happening {
    /// A mail reaches its reader.
    Read(Mail),
    /// An answer, or a report of failure, reaches the clinic.
    Arrive(Letter),
    /// The service looks at its clock.
    Look,
    /// The service starts.
    Start,
    /// Trouble that comes once in a while.
    Befall(Mishap),
    /// There is room on the disk again.
    Empty,
}

/// A follow-up as the service has it.
#[derive(Debug)]
struct FollowUp {
    /// In memory; gone when the process is killed.
    state: State,
    /// Committed.
    journal: Vec<Entry>,
    /// Committed with the journal.
    next_due: Option<Instant>,
    cover: Vec<ClinicianId>,
}

/// The world of one run.
struct Rules {
    trial: Trial,
    marks_per_mille: u64,
    /// The clinic's clinicians, with their habits.
    clinicians: Vec<(ClinicianId, Habit)>,
    /// Each client's contacts, in the order of their file, with their habits.
    contacts: Vec<Vec<(ContactId, Habit)>>,
    people: Dice,
    servers: Dice,
    troubles: Dice,
    now: Instant,
    /// How far the service's clock is ahead.
    skew: TimeDelta,
    /// As at the whole depth: the last time that the clock was set back, until it is noticed.
    set_back: Option<(Instant, TimeDelta)>,
    was_set_back: bool,
    calm: bool,
    cut_off_until: Option<Instant>,
    /// Time slept through on purpose.
    leapt: TimeDelta,
    process: Process,
    follow_ups: Vec<FollowUp>,
    /// All versions of plans.
    shelf: Vec<(PlanVersion, Plan)>,
    /// What lies in the mailbox and is not worked through.
    inbox: VecDeque<Letter>,
    ledger: Ledger,
    faults: FaultCounts,
    mails: u64,
    replies: u64,
    story: Option<Vec<String>>,
    agenda: Agenda<Happening>,
    next_audit: Instant,
}

/// Runs a trial.
pub(super) fn run(trial: Trial, cast: Cast, tells: bool) -> Outcome {
    let zone = cast.clients[0].time_zone.as_str();
    let calendar = Calendar::new(zone).expect("OK because the zones are known");
    let (begins, begin) = (cast.begins, calendar.midnight(cast.begins) - TimeDelta::hours(2));
    let mut rules = Rules::new(trial, cast, begin, tells);
    let last_day = calendar.midnight(begins + Days::new(u64::from(trial.days)));
    let broken = rules.live(last_day).err();
    let follow_ups = rules.ledger.clients.len() as u64;
    let days = u64::try_from((rules.now - begin).num_days().max(0)).unwrap_or(0);
    let away = u64::try_from(rules.leapt.num_days().max(0)).unwrap_or(0);
    Outcome {
        broken: broken.map(|broken| (rules.now, broken)),
        faults: rules.faults,
        follow_ups,
        follow_up_days: follow_ups * days.saturating_sub(away),
        mails: rules.mails,
        replies: rules.replies,
        alerts: rules.ledger.alerts,
        advances: rules.ledger.advances,
        story: rules.story.unwrap_or_default(),
    }
}

impl Rules {
    fn live(&mut self, mut end: Instant) -> Result<(), Broken> {
        let planned = troubles::planned(&mut self.troubles, self.trial, self.now);
        for (at, mishap) in planned {
            self.agenda.put(at, Happening::Befall(mishap));
        }
        self.agenda.put(self.now, Happening::Start);
        self.happen_until(&mut end)?;
        self.become_calm();
        let mut end = self.now + TimeDelta::days(CALM_DAYS);
        self.happen_until(&mut end)?;
        self.check_at_the_end()
    }

    fn happen_until(&mut self, end: &mut Instant) -> Result<(), Broken> {
        loop {
            let times = [self.agenda.next_at(), self.process.wakes_at, Some(self.next_audit)];
            let Some(at) = times.into_iter().flatten().min().filter(|at| at < end) else { break };
            self.now = self.now.max(at);
            let leapt = self.leapt;
            match self.happen(at) {
                Ok(()) | Err(Halt::Crashed | Halt::Full) => {}
                Err(Halt::Broken(broken)) => return Err(broken),
            }
            // What is slept through is not counted as days of the run.
            *end += self.leapt - leapt;
        }
        self.now = *end;
        Ok(())
    }

    /// The first of what is to happen at an instant: what comes from outside, then what is due.
    fn happen(&mut self, at: Instant) -> Result<(), Halt> {
        if self.agenda.next_at() != Some(at) {
            if self.process.wakes_at == Some(at) {
                self.process.wakes_at = None;
                return self.pump();
            }
            self.next_audit = at + TimeDelta::hours(1);
            return self.audit().map_err(Halt::Broken);
        }
        let Some((_, what)) = self.agenda.take_before(at + TimeDelta::nanoseconds(1)) else {
            return Ok(());
        };
        match what {
            Happening::Read(mail) => {
                self.read(mail);
                Ok(())
            }
            Happening::Arrive(letter) => self.arrive(letter),
            Happening::Look => self.pump(),
            Happening::Start => self.start(),
            Happening::Befall(mishap) => self.befall(mishap),
            Happening::Empty => self.empty(),
        }
    }

    /// Tells something, where the run is to be told.
    fn tell(&mut self, what: impl FnOnce() -> String) {
        if let Some(story) = &mut self.story {
            story.push(format!("{}  {}", self.now.format("%Y-%m-%d %H:%M:%S"), what()));
        }
    }

    /// The time by the service's clock.
    fn service_now(&self) -> Instant {
        self.now + self.skew
    }

    /// Whether a kind of trouble strikes, where it is on and the world is not calm yet. The dice are
    /// thrown in any case, so that a kind taken away changes nothing else.
    fn strikes(&mut self, fault: Fault, per_mille: u64) -> bool {
        let falls = self.troubles.per_mille(per_mille);
        let strikes = falls && !self.calm && self.trial.faults.has(fault);
        if strikes {
            self.faults.count(fault);
        }
        strikes
    }
}
