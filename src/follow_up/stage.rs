//! A small stage for tests of single rules: one client, one plan, a clock that is moved by hand.
//!
//! Never here: rules; the program itself (tests only).
//! Promises: whatever is due happens at its own instant, as in the service.

use chrono::{NaiveDate, NaiveTime};

use super::{Aim, Basis, Calendar, Entry, Event, Instant, Occasion, State, StepNumber, Terms};
use crate::care::{
    ClinicianId, ContactId, Plan, PlanVersion, Reading, RiskLevel, Site, StepChoice, Verdict,
};
use crate::config::parse_plan;

/// Two steps, two sittings a day, a routine phase.
pub(super) const PLAN: &str = r#"
id = "two-steps"
title = "Two steps"

[looks]
fade_limit = "30min"
slow_fade = "15min"
answer_within = "20min"
ask_again = 1
tell_clinic_after = "2h"
recheck_within = "1h"
missed_to_suspend = 2
rest_after_mark = "1h"

[stop]
repeat_alert = "30min"
pass_on_after = "1h"
bring_back_at = "08:00"
step_back = 1

[[risk.high.step]]
sit = "15min"
sittings_per_day = 2
clear_to_advance = 2

[[risk.high.step]]
sit = "30min"
sittings_per_day = 2
clear_to_advance = 2

[risk.high.routine]
look_at = ["08:00", "20:00"]
review_after_days = [7]
"#;

pub(super) struct Stage {
    pub(super) plan: Plan,
    pub(super) state: State,
    pub(super) entries: Vec<Entry>,
    cover: Vec<ClinicianId>,
}

impl Stage {
    /// A client who begins on 6 March, with sittings at 10:00 and 15:00 UTC.
    pub(super) fn new() -> Self {
        let zone = Calendar::new("UTC").unwrap();
        let begins = NaiveDate::from_ymd_opt(2026, 3, 6).unwrap();
        let from = zone.midnight(begins);
        let clock = |hour| NaiveTime::from_hms_opt(hour, 0, 0).unwrap();
        let terms = Terms {
            risk: RiskLevel::new("high").unwrap(),
            plan: PlanVersion::from_hash("1".repeat(64)),
            zone,
            sittings_at: vec![clock(10), clock(15)],
            quiet: None,
            contacts: vec![contact("first"), contact("second")],
            cover: Vec::new(),
            begins,
        };
        Self {
            plan: plan(PLAN),
            state: State::new(terms, from),
            entries: Vec::new(),
            cover: vec![seating()],
        }
    }

    pub(super) fn basis(&self) -> Basis<'_> {
        Basis { plan: &self.plan, cover: &self.cover }
    }

    /// Lets everything happen that is due up to an instant, each thing at its own.
    pub(super) fn pass_until(&mut self, until: Instant) {
        while let Some(next) = self.state.next_due(&self.basis()).filter(|next| *next <= until) {
            self.happen(&Occasion::Clock, next);
        }
    }

    /// Lets something happen, after everything that is due before it; returns what came of it.
    pub(super) fn act(&mut self, occasion: &Occasion, at: Instant) -> Vec<Event> {
        self.pass_until(at);
        let first = self.entries.len();
        self.happen(occasion, at);
        self.entries[first..].iter().map(|entry| entry.event.clone()).collect()
    }

    pub(super) fn say(&mut self, reading: Reading, site: Option<Site>, at: Instant) -> Vec<Event> {
        let sites = site.into_iter().collect();
        let verdict = Verdict { sites, ..Verdict::bare(reading) };
        self.act(&Occasion::Reply { by: contact("first"), verdict, aim: Aim::Newest }, at)
    }

    pub(super) fn decide(
        &mut self,
        reading: Reading,
        step: Option<u32>,
        at: Instant,
    ) -> Vec<Event> {
        let step = step.map(StepChoice::Step);
        let verdict = Verdict { step, ..Verdict::bare(reading) };
        self.act(&Occasion::Decision { by: seating(), verdict, answers: None }, at)
    }

    /// What happened after an instant.
    pub(super) fn since(&self, at: Instant) -> impl Iterator<Item = &Event> {
        self.entries.iter().filter(move |entry| entry.at > at).map(|entry| &entry.event)
    }

    /// Whether the entries alone lead to the state.
    pub(super) fn is_as_journalled(&self) -> bool {
        let begins = self.state.terms.zone.midnight(self.state.terms.begins);
        let mut replayed = State::new(Self::new().state.terms, begins);
        self.entries.iter().for_each(|entry| replayed.apply(entry));
        replayed == self.state
    }

    fn happen(&mut self, occasion: &Occasion, at: Instant) {
        let basis = Basis { plan: &self.plan, cover: &self.cover };
        self.entries.extend(self.state.advance(basis, occasion, at));
    }
}

pub(super) fn plan(text: &str) -> Plan {
    parse_plan("plan.toml", text).unwrap().value
}

pub(super) fn contact(id: &str) -> ContactId {
    ContactId::new(id).unwrap()
}

pub(super) fn seating() -> ClinicianId {
    ClinicianId::new("seating").unwrap()
}

pub(super) fn step(number: u32) -> StepNumber {
    StepNumber::new(number)
}

/// A time on a day of March 2026, UTC; later days are counted on.
pub(super) fn at(day: u32, hour: u32, minute: u32) -> Instant {
    let first = NaiveDate::from_ymd_opt(2026, 3, 1).unwrap();
    let day = first + chrono::TimeDelta::days(i64::from(day) - 1);
    day.and_hms_opt(hour, minute, 0).unwrap().and_utc()
}
