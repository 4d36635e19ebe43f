//! What is planned for clients, as an iCalendar file (RFC 5545): sittings, looks, reviews.
//!
//! An entry's UID says which sitting, look or review it is, not when it is, and its SEQUENCE grows
//! with the journal: after a change of plan or step a calendar moves its entries and adds none. What
//! takes place no longer is in the file as cancelled, so that a calendar which knows it drops it.
//!
//! Never here: the words of the entries (`agenda`); mail.
//! Promises: nothing that is over; no names, only the clinic's reference; times are exact (UTC).

use std::collections::HashMap;

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeDelta, Utc};
use icalendar::{Calendar, Component, Event as Item, EventLike, EventStatus};

use super::agenda::Agenda;
use crate::care::{ClientRef, Ladder, Minutes, Plan, Step};
use crate::follow_up::event::LookKind;
use crate::follow_up::state::{Course, LookStatus, Phase};
use crate::follow_up::{Event, Instant, SittingNumber, State};

/// What the entries of one client are made from.
#[derive(Clone, Debug)]
pub struct Planned<'a> {
    /// The clinic's reference for the client.
    pub client: &'a ClientRef,
    /// How the follow-up stands.
    pub state: &'a State,
    /// The plan that it is pinned to.
    pub plan: &'a Plan,
    /// Its journal, from the first entry on.
    pub journal: Vec<&'a Event>,
    /// The words.
    pub agenda: Agenda<'a>,
    /// The service's own mail address: it publishes the entries, and makes their ids its own.
    pub publisher: &'a str,
    /// How many days ahead, today included.
    pub days: u32,
    /// Now.
    pub now: Instant,
}

/// A look of a sitting takes a few minutes (common practice, no source).
const LOOK: TimeDelta = TimeDelta::minutes(10);

/// A calendar of some clients' entries under one name, as a file.
#[derive(Debug)]
pub struct CalendarFile {
    calendar: Calendar,
}

impl CalendarFile {
    /// An empty calendar.
    pub fn new(name: &str) -> Self {
        let mut calendar = Calendar::empty();
        calendar.append_property(("VERSION", "2.0"));
        calendar.append_property(("PRODID", "-//fadewatch//skin checks//EN"));
        calendar.append_property(("CALSCALE", "GREGORIAN"));
        calendar.name(name);
        calendar.append_property(("METHOD", "PUBLISH"));
        Self { calendar }
    }

    /// Adds what is planned for a client.
    pub fn add(&mut self, of: &Planned<'_>) {
        for item in Sheet::new(of).items() {
            self.calendar.push(item);
        }
    }

    /// How many entries it has.
    pub fn entries(&self) -> usize {
        self.calendar.len()
    }

    /// The file.
    pub fn text(&self) -> String {
        self.calendar.to_string()
    }
}

struct Sheet<'a> {
    of: &'a Planned<'a>,
    state: &'a State,
    ladder: Option<&'a Ladder>,
    /// The sittings that have begun, by the day and time that they were planned for.
    begun: HashMap<(NaiveDate, NaiveTime), SittingNumber>,
    /// Planned sittings that did not take place.
    dropped: Vec<(NaiveDate, NaiveTime)>,
    /// The most sittings of a day that were planned so far.
    sittings_most: usize,
    /// The most looks of a sitting that were planned so far.
    looks_most: usize,
}

/// Whether an entry takes place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stands {
    Planned,
    Cancelled,
}

impl<'a> Sheet<'a> {
    fn new(of: &'a Planned<'a>) -> Self {
        let (mut begun, mut dropped) = (HashMap::new(), Vec::new());
        let (mut sittings_most, mut looks_most) = (0, 0);
        let times = &of.state.terms.sittings_at;
        let place = |time: &NaiveTime| times.iter().position(|planned| planned == time);
        for event in &of.journal {
            match event {
                Event::Sitting { sitting, slot, offsets, .. } => {
                    begun.insert(*slot, *sitting);
                    sittings_most = place(&slot.1).map_or(0, |at| at + 1).max(sittings_most);
                    looks_most = offsets.len().max(looks_most);
                }
                Event::Dropped { slot, .. } => {
                    dropped.push(*slot);
                    sittings_most = place(&slot.1).map_or(0, |at| at + 1).max(sittings_most);
                }
                _ => {}
            }
        }
        let state = of.state;
        let ladder = of.plan.ladder(&state.terms.risk);
        Self { of, state, ladder, begun, dropped, sittings_most, looks_most }
    }

    fn items(&self) -> Vec<Item> {
        let mut items = Vec::new();
        let today = self.state.terms.zone.date(self.of.now);
        for ahead in 0..u64::from(self.of.days) {
            let Some(day) = today.checked_add_days(Days::new(ahead)) else { break };
            self.sittings_of(day, &mut items);
            self.routine_looks_of(day, &mut items);
        }
        self.rechecks(&mut items);
        self.reviews(&mut items);
        items.retain(|(ends, _)| *ends > self.of.now);
        items.into_iter().map(|(_, item)| item).collect()
    }

    /// The sittings of a day with their looks: those of the present step as planned; what an
    /// earlier step had planned beside them as cancelled.
    fn sittings_of(&self, day: NaiveDate, items: &mut Vec<(Instant, Item)>) {
        let terms = &self.state.terms;
        let step = self.present_step();
        let per_day = step.map_or(0, |step| step.sittings_per_day as usize);
        let offsets = step.map(Step::look_offsets).unwrap_or_default();
        let most = self.sittings_most.max(per_day);
        let looks_most = self.looks_most.max(offsets.len());
        for (index, time) in terms.sittings_at.iter().enumerate().take(most) {
            let slot = (day, *time);
            let planned_at = terms.zone.instant(day, *time);
            let number = self.begun.get(&slot).copied();
            let takes_place = number.is_some_and(|number| {
                !matches!(self.state.sitting(number).course, Course::Cancelled | Course::Stopped)
            }) || (number.is_none()
                && index < per_day
                && day >= terms.begins
                && self.goes_on()
                && !self.dropped.contains(&slot));
            let stands = if takes_place { Stands::Planned } else { Stands::Cancelled };
            let (start, sit) = match number.map(|number| self.state.sitting(number)) {
                Some(sitting) => (sitting.start, sitting.sit),
                None => (planned_at, step.map_or(Minutes::new(1), |step| step.sit)),
            };
            let ends = start + sit.elapsed();
            let key = format!("sitting-{day}-{index}");
            items.push(self.item(&key, (start, ends), &self.of.agenda.sitting(sit), stands));
            for look in 0..looks_most {
                let offset = offsets.get(look).map(|offset| offset.elapsed());
                let stands = if offset.is_some() { stands } else { Stands::Cancelled };
                let at = start + offset.unwrap_or_else(|| sit.elapsed());
                let key = format!("look-{day}-{index}-{look}");
                items.push(self.item(&key, (at, at + LOOK), &self.of.agenda.look(), stands));
            }
        }
    }

    fn routine_looks_of(&self, day: NaiveDate, items: &mut Vec<(Instant, Item)>) {
        let Some(ladder) = self.ladder else { return };
        let routine = ladder.routine.as_ref().map(|routine| routine.look_at.as_slice());
        let routine = routine.unwrap_or_default();
        let (times, most) = match self.state.phase {
            Phase::BuildUp { .. } => (ladder.look_at.as_slice(), ladder.look_at.len()),
            Phase::Routine { .. } => (routine, ladder.look_at.len().max(routine.len())),
        };
        let present = if self.asks() { times } else { &[] };
        for index in 0..most {
            let (time, stands) = match present.get(index) {
                Some(time) if day >= self.state.terms.begins => (*time, Stands::Planned),
                _ => {
                    let known = times.get(index).or_else(|| ladder.look_at.get(index));
                    (known.copied().unwrap_or(NaiveTime::MIN), Stands::Cancelled)
                }
            };
            let at = self.state.terms.zone.instant(day, time);
            let key = format!("routine-{day}-{index}");
            items.push(self.item(&key, (at, at + LOOK), &self.of.agenda.look(), stands));
        }
    }

    /// Second looks at marks that wait.
    fn rechecks(&self, items: &mut Vec<(Instant, Item)>) {
        for look in self.state.looks().filter(|look| look.kind == LookKind::Recheck) {
            let stands = match look.status {
                LookStatus::Planned | LookStatus::Open => Stands::Planned,
                LookStatus::Answered | LookStatus::Missed => continue,
                LookStatus::Withdrawn { .. } => Stands::Cancelled,
            };
            let times = (look.due, look.due + LOOK);
            let key = format!("recheck-{}", look.id);
            items.push(self.item(&key, times, &self.of.agenda.recheck(), stands));
        }
    }

    /// Reviews of the routine phase, once it has begun (R8).
    fn reviews(&self, items: &mut Vec<(Instant, Item)>) {
        let Phase::Routine { began, reviewed } = &self.state.phase else { return };
        let routine = self.ladder.and_then(|ladder| ladder.routine.as_ref());
        for day in routine.map(|routine| routine.review_after_days.as_slice()).unwrap_or_default() {
            let Some(date) = began.checked_add_days(Days::new(u64::from(*day))) else { continue };
            if reviewed.contains(day) {
                continue;
            }
            let stands = if self.state.is_closed() { Stands::Cancelled } else { Stands::Planned };
            let ends = self.state.terms.zone.midnight(date + Days::new(1));
            let mut item =
                self.bare(&format!("review-{day}"), &self.of.agenda.review(*day), stands);
            items.push((ends, item.all_day(date).done()));
        }
    }

    /// Whether sittings are planned at all.
    fn goes_on(&self) -> bool {
        self.asks() && !self.state.is_suspended()
    }

    /// Whether contacts are asked to look.
    fn asks(&self) -> bool {
        !(self.state.is_stopped() || self.state.is_paused() || self.state.is_closed())
    }

    /// The present step; none in the routine phase.
    fn present_step(&self) -> Option<&'a Step> {
        let step = self.state.step()?.count().checked_sub(1)?;
        self.ladder?.steps.get(step as usize)
    }

    /// An entry, and when it is over.
    fn item(
        &self,
        key: &str,
        (from, until): (Instant, Instant),
        summary: &str,
        stands: Stands,
    ) -> (Instant, Item) {
        let mut item = self.bare(key, summary, stands);
        (until, item.starts(exact(from)).ends(exact(until)).done())
    }

    fn bare(&self, key: &str, summary: &str, stands: Stands) -> Item {
        let of = self.of;
        let domain = of.publisher.rsplit_once('@').map_or(of.publisher, |(_, domain)| domain);
        let mut item = Item::new();
        item.uid(&format!("{key}-{}@{domain}", of.client))
            .timestamp(exact(of.now))
            .sequence(u32::try_from(of.journal.len()).unwrap_or(u32::MAX))
            .summary(summary)
            .description(&self.of.agenda.note())
            .status(match stands {
                Stands::Planned => EventStatus::Confirmed,
                Stands::Cancelled => EventStatus::Cancelled,
            });
        // Whoever publishes has to be named (RFC 5546, 3.2.1); nobody is invited.
        item.add_property("ORGANIZER", format!("mailto:{}", of.publisher));
        // Nobody is busy in a calendar for a sitting of somebody else.
        item.add_property("TRANSP", "TRANSPARENT");
        item.done()
    }
}

/// In whole seconds: the format has no finer ones.
fn exact(at: Instant) -> DateTime<Utc> {
    DateTime::from_timestamp(at.timestamp(), 0).unwrap_or(at)
}
