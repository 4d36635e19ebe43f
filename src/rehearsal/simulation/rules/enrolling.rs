//! How a run begins: everybody's places, and the clients enrolled.
//!
//! Never here: what happens then.
//! Promises: enrolled as the service enrols, with the same entries.

use std::collections::VecDeque;

use chrono::TimeDelta;

use super::process::Process;
use super::{FollowUp, Rules};
use crate::config::ClientFile;
use crate::follow_up::{Basis, Entry, Event, Instant, QuietHours, State, Terms};
use crate::rehearsal::simulation::agenda::Agenda;
use crate::rehearsal::simulation::cast::{Cast, Habit};
use crate::rehearsal::simulation::dice::Dice;
use crate::rehearsal::simulation::fault::FaultCounts;
use crate::rehearsal::simulation::ledger::{ClientFacts, Ledger};
use crate::rehearsal::simulation::trial::Trial;
use crate::store::FollowUpId;

impl Rules {
    /// A world in which all clients are enrolled.
    pub(super) fn new(trial: Trial, cast: Cast, begin: Instant, tells: bool) -> Self {
        let habit = |mail: &str| cast.habits.get(mail).copied().unwrap_or(Habit::Prompt);
        let clinicians = cast.clinic.clinicians.iter();
        let clinicians = clinicians.map(|one| (one.id.clone(), habit(one.mail.as_str()))).collect();
        let contacts = |client: &ClientFile| {
            let contacts = client.contacts.iter();
            contacts.map(|one| (one.id.clone(), habit(one.mail.as_str()))).collect()
        };
        let mut rules = Self {
            trial,
            marks_per_mille: cast.marks_per_mille,
            clinicians,
            contacts: cast.clients.iter().map(contacts).collect(),
            people: Dice::new(trial.seed, 2),
            servers: Dice::new(trial.seed, 3),
            troubles: Dice::new(trial.seed, 4),
            now: begin,
            skew: TimeDelta::zero(),
            set_back: None,
            was_set_back: false,
            calm: false,
            cut_off_until: None,
            leapt: TimeDelta::zero(),
            process: Process::default(),
            follow_ups: Vec::new(),
            shelf: Vec::new(),
            inbox: VecDeque::new(),
            ledger: Ledger::default(),
            faults: FaultCounts::default(),
            mails: 0,
            replies: 0,
            story: tells.then(Vec::new),
            agenda: Agenda::default(),
            next_audit: begin + TimeDelta::hours(1),
        };
        cast.clients.into_iter().for_each(|file| rules.enroll(file));
        rules
    }

    fn enroll(&mut self, file: ClientFile) {
        let client = self.ledger.clients.len();
        let number = i64::try_from(client).unwrap_or(i64::MAX) + 1;
        let facts = ClientFacts::new(FollowUpId::from_number(number), file);
        let (file, now) = (&facts.file, self.service_now());
        let terms = Terms {
            risk: file.risk.clone(),
            plan: facts.plan_version.clone(),
            zone: facts.calendar.clone(),
            sittings_at: file.sittings_at.clone(),
            quiet: file.quiet.map(|quiet| QuietHours { from: quiet.from, to: quiet.to }),
            contacts: file.contacts.iter().map(|contact| contact.id.clone()).collect(),
            cover: file.cover.clone(),
            begins: file.begins,
        };
        let from = terms.zone.midnight(terms.begins).max(now);
        let mut state = State::new(terms.clone(), from);
        let enrolled = Event::Enrolled { terms: Box::new(terms), from };
        let mut journal = vec![Entry { at: now, event: enrolled }];
        for contact in file.contacts.iter().filter(|contact| !contact.asked.is_any()) {
            let (contact, hours) = (contact.id.clone(), contact.asked.clone());
            let said = Entry { at: now, event: Event::HoursSaid { contact, hours } };
            state.apply(&said);
            journal.push(said);
        }
        let cover = file.cover.clone();
        let next_due = state.next_due(&Basis { plan: &file.plan, cover: &cover });
        if !self.shelf.iter().any(|(version, _)| *version == facts.plan_version) {
            self.shelf.push((facts.plan_version.clone(), file.plan.clone()));
        }
        self.ledger.clients.push(facts);
        for (number, entry) in (1..).zip(&journal) {
            self.ledger.take(client, number, entry, self.now);
        }
        self.follow_ups.push(FollowUp { state, journal, next_due, cover });
    }
}
