//! How the state follows from entries: a fold, one entry after the other.
//!
//! Never here: decisions. An entry says all that is needed to change the state by it.
//! Promises: replaying the journal gives the state that was there when it was written.

use super::calendar::{Cursor, Instant};
use super::event::{
    AlertCause, AlertSending, Entry, Event, Found, LookKind, NoCreditReason, RequestClock,
    TellDetail, TellReason, WithdrawReason,
};
use super::ids::{AlertId, LookId, SittingNumber, StepNumber};
use super::past::Past;
use super::state::{
    Alert, Course, Look, LookClock, LookStatus, Outcome, Phase, Request, Run, Sitting, Standing,
    State,
};
use super::terms::Terms;
use crate::care::{ClinicianId, ContactId, Finding, Minutes, PlanVersion, Site};
use std::collections::{BTreeMap, BTreeSet};

impl State {
    /// The state that the first entry of a journal makes, or the change that a later one brings.
    ///
    /// # Panics
    /// When the first entry is not the enrolment: such a journal was not written by us.
    pub fn fold(state: Option<Self>, entry: &Entry) -> Self {
        match (state, &entry.event) {
            (None, Event::Enrolled { terms, from }) => Self::new((**terms).clone(), *from),
            (Some(mut state), _) => {
                state.apply(entry);
                state
            }
            (None, _) => panic!("a journal begins with the enrolment"),
        }
    }

    /// A follow-up that has just been enrolled; nothing before `from` is asked.
    pub fn new(terms: Terms, from: Instant) -> Self {
        let cursor = Cursor { from, handled: None };
        Self {
            terms,
            fitting: None,
            unreachable: BTreeSet::new(),
            hours: BTreeMap::new(),
            phase: Phase::BuildUp { step: StepNumber::new(1) },
            standing: Standing::Open,
            run: Run { credits: 0, generation: 0, last_credit_at: None },
            missed_in_a_row: 0,
            past: Past::default(),
            recent_sittings: Vec::new(),
            recent_looks: Vec::new(),
            gone_at: None,
            resumes: 0,
            alert: None,
            alerts: 0,
            alerts_before_stop: 0,
            requests: 0,
            sitting_cursor: cursor,
            routine_cursor: cursor,
            midnight_decided: None,
        }
    }

    /// Changes the state by one entry.
    pub fn apply(&mut self, entry: &Entry) {
        self.follow(entry);
        self.lay_down_the_past();
    }

    pub(super) fn follow(&mut self, entry: &Entry) {
        let at = entry.at;
        match &entry.event {
            Event::Sitting { sitting, step, minutes, start, slot, to, offsets } => {
                self.sitting_cursor.handled = Some(*slot);
                let announcement = self.request(to, at);
                self.recent_sittings.push(Sitting {
                    number: *sitting,
                    step: *step,
                    sit: *minutes,
                    start: *start,
                    announcement,
                    announced: true,
                    looks: Vec::new(),
                    course: Course::Ran,
                    stopped: false,
                    cut_short: false,
                    outcome: None,
                    settled: false,
                    counted: false,
                    counts_in: None,
                    named: BTreeSet::new(),
                    repeat_told: false,
                    point: None,
                });
                self.plan_first_looks(*sitting, *start, offsets);
            }
            Event::Started { sitting, start } => self.sitting_mut(*sitting).start = *start,
            Event::TakenUp { sitting, start, offsets } => {
                let asked = self.first_look_was_asked(*sitting);
                let taken_up = self.sitting_mut(*sitting);
                taken_up.start = *start;
                taken_up.course = Course::Ran;
                taken_up.announced = !asked;
                taken_up.settled = false;
                taken_up.outcome = None;
                self.plan_first_looks(*sitting, *start, offsets);
            }
            Event::Dropped { slot, .. } => self.sitting_cursor.handled = Some(*slot),
            Event::LookPlanned { look, kind, sitting, of, due } => {
                self.push_look(*look, *kind, *sitting, *of, *due);
            }
            Event::LookMoved { look, due } => self.look_mut(*look).due = *due,
            Event::ReminderPutOff { look, until } => {
                if let Some(clock) = &mut self.look_mut(*look).clock {
                    clock.wait_until = Some(*until);
                }
            }
            Event::LookWithdrawn { look, why } => self.withdraw(*look, *why, at),
            Event::RoutineDue { look, slot } => {
                self.routine_cursor.handled = Some(*slot);
                self.push_look(*look, LookKind::Routine, None, None, at);
            }
            Event::RoutinePassed { slot } => self.routine_cursor.handled = Some(*slot),
            Event::Asked { look, to, clock, .. } => self.asked(*look, to, *clock, at),
            Event::Unasked { look, kind, sitting, by } => {
                self.push_look(*look, *kind, *sitting, None, at);
                let request = self.request(by, at);
                let look = self.look_mut(*look);
                look.status = LookStatus::Open;
                look.unasked = true;
                look.requests.push(request);
            }
            Event::Answered { .. }
            | Event::Awoke { .. }
            | Event::ToldToStop { .. }
            | Event::SetAside { .. } => {}
            Event::Found { look, found, gone } => self.found(*look, found, *gone),
            Event::NotUnderstood { look } => self.look_mut(*look).unclear += 1,
            Event::SitesNamed { sitting, sites } => self.name_sites(*sitting, sites),
            Event::SittingEnded { sitting, cut_short } => {
                let ended = self.sitting_mut(*sitting);
                ended.course = Course::EndedByMark;
                ended.announced = false;
                ended.cut_short |= *cut_short;
            }
            Event::Reopened { sitting, run } => {
                self.run.credits = *run;
                let reopened = self.sitting_mut(*sitting);
                reopened.settled = false;
                reopened.outcome = None;
                reopened.point = None;
            }
            Event::Credit { sitting, run, fade } => {
                self.run.credits = *run;
                self.run.last_credit_at = Some(at);
                // A sitting settled anew stays with the run that it had earned credit in (R18).
                let present = self.run.generation;
                let generation = *self.sitting_mut(*sitting).counts_in.get_or_insert(present);
                let outcome = Outcome::Credit { generation };
                if self.settle(*sitting, outcome, *fade) {
                    self.missed_in_a_row = 0;
                }
            }
            Event::NoCredit { sitting, why, fade } => self.no_credit(*sitting, *why, *fade),
            Event::RunBroken => self.break_run(),
            Event::Missed { look, .. } => {
                let missed = self.look_mut(*look);
                missed.status = LookStatus::Missed;
                missed.settled_at = Some(at);
            }
            Event::Suspended => self.standing = Standing::Suspended,
            Event::Unsuspended => {
                self.standing = Standing::Open;
                self.lift(at);
            }
            Event::Advanced { step, date } => {
                self.phase = Phase::BuildUp { step: *step };
                self.midnight_decided = Some(*date);
                // A step with more sittings a day has none of them in the past.
                self.sitting_cursor.from = at;
                self.break_run();
            }
            Event::Held { date, .. } => {
                self.midnight_decided = Some(*date);
                self.break_run();
            }
            Event::Routine { date } => {
                self.phase = Phase::Routine { began: *date, reviewed: BTreeSet::new() };
                self.midnight_decided = Some(*date);
                // The phase's own times begin with it: none of them is past yet.
                self.routine_cursor = Cursor { from: at, handled: None };
                self.break_run();
            }
            Event::MidnightPassed { date } => self.midnight_decided = Some(*date),
            Event::Review { day } => {
                if let Phase::Routine { reviewed, .. } = &mut self.phase {
                    reviewed.insert(*day);
                }
            }
            Event::Stopped { step, look, .. } => self.stop(*step, *look, at),
            Event::Alerted { alert, cause, sending, to, .. } => {
                self.alerted(*alert, *cause, *sending, to, at);
            }
            Event::Acknowledged { by, .. } => {
                if let Some(alert) = &mut self.alert {
                    alert.acknowledged = Some((by.clone(), at));
                }
            }
            Event::Resumed { step, .. } => self.resume(*step, at),
            Event::KeptStopped { .. } => self.alert = None,
            Event::Closed { .. } => self.close(at),
            Event::ClinicTold { why, detail, .. } => self.told(*why, detail),
            Event::Unreachable { contact } => {
                self.unreachable.insert(contact.clone());
            }
            Event::ContactsChanged { contacts, readdressed } => {
                self.terms.contacts.clone_from(contacts);
                self.unreachable
                    .retain(|contact| contacts.contains(contact) && !readdressed.contains(contact));
            }
            Event::HoursSaid { contact, hours } if hours.is_any() => {
                self.hours.remove(contact);
            }
            Event::HoursSaid { contact, hours } => {
                self.hours.insert(contact.clone(), hours.clone());
            }
            Event::Fitted { version, .. } => self.fitting = Some(version.clone()),
            Event::PlanAdopted { plan, step, last, .. } => self.adopt(plan, *step, *last, at),
            Event::Paused { why, .. } => {
                self.standing = Standing::Paused { since: at, why: *why };
            }
            Event::Unpaused { step, .. } => self.unpause(*step, at),
            Event::ClockSetBack { instead_of } => self.set_back(*instead_of, at),
            Event::Enrolled { .. } => panic!("a journal has one enrolment, at its head"),
        }
    }

    fn plan_first_looks(&mut self, sitting: SittingNumber, start: Instant, offsets: &[Minutes]) {
        for offset in offsets {
            let id = self.next_look();
            self.push_look(id, LookKind::First, Some(sitting), None, start + offset.elapsed());
        }
    }

    /// The number of the next look.
    pub(super) fn next_look(&self) -> LookId {
        LookId::new(u32::try_from(self.looks_count()).unwrap_or(u32::MAX) + 1)
    }

    fn push_look(
        &mut self,
        id: LookId,
        kind: LookKind,
        sitting: Option<SittingNumber>,
        of: Option<LookId>,
        due: Instant,
    ) {
        assert_eq!(id, self.next_look(), "looks are numbered in order");
        if let Some(number) = sitting {
            self.sitting_mut(number).looks.push(id);
        }
        if let Some(marked) = of {
            self.look_mut(marked).recheck = Some(id);
        }
        self.recent_looks.push(Look {
            id,
            kind,
            sitting,
            of,
            recheck: None,
            due,
            status: LookStatus::Planned,
            settled_at: None,
            requests: Vec::new(),
            clock: None,
            unclear: 0,
            found: None,
            found_in: 0,
            mark_sites: Vec::new(),
            unasked: false,
        });
    }

    fn request(&mut self, to: &ContactId, at: Instant) -> Request {
        self.requests += 1;
        Request { to: to.clone(), at, order: self.requests }
    }

    fn asked(&mut self, id: LookId, to: &ContactId, clock: RequestClock, at: Instant) {
        let request = self.request(to, at);
        let look = self.look_mut(id);
        look.requests.push(request);
        match clock {
            RequestClock::First { wait_until, over_at } => {
                look.status = LookStatus::Open;
                look.clock = Some(LookClock {
                    first_asked: at,
                    asking: to.clone(),
                    repeats: 0,
                    wait_until,
                    over_at,
                });
                if let (LookKind::First, Some(number)) = (look.kind, look.sitting) {
                    self.sitting_mut(number).announced = false;
                }
            }
            RequestClock::Again { wait_until, repeats } => {
                if let Some(clock) = &mut look.clock {
                    clock.asking = to.clone();
                    clock.repeats = repeats;
                    clock.wait_until = wait_until;
                }
            }
            RequestClock::Unchanged => {}
        }
    }

    fn withdraw(&mut self, id: LookId, why: WithdrawReason, at: Instant) {
        let look = self.look_mut(id);
        look.status = LookStatus::Withdrawn { why };
        look.settled_at = Some(at);
    }

    fn found(&mut self, id: LookId, found: &Found, gone: bool) {
        if gone {
            self.gone_at = Some(found.said_at);
        }
        let resumes = self.resumes;
        let look = self.look_mut(id);
        look.found = Some(found.clone());
        look.found_in = resumes;
        if found.finding > Finding::Clear && !found.sites.is_empty() {
            look.mark_sites.clone_from(&found.sites);
        }
        if look.is_unsettled() {
            look.status = LookStatus::Answered;
            look.settled_at = Some(found.said_at);
        }
        if let (Some(number), true) = (look.sitting, found.finding > Finding::Clear) {
            self.name_sites(number, &found.sites);
        }
    }

    fn name_sites(&mut self, number: SittingNumber, sites: &[Site]) {
        let both = sites.iter().flat_map(|site| site.both_if_unsided());
        self.sitting_mut(number).named.extend(both);
    }

    /// Settles a sitting; true when it is the first time, which counts in the row of R16.
    fn settle(&mut self, number: SittingNumber, outcome: Outcome, fade: Option<Minutes>) -> bool {
        let sitting = self.sitting_mut(number);
        sitting.settled = true;
        sitting.outcome = Some(outcome);
        sitting.point = fade;
        !std::mem::replace(&mut sitting.counted, true)
    }

    fn no_credit(&mut self, number: SittingNumber, why: NoCreditReason, fade: Option<Minutes>) {
        if why == NoCreditReason::NoSitting {
            let sitting = self.sitting_mut(number);
            sitting.course = Course::Cancelled;
            sitting.announced = false;
            sitting.settled = true;
            sitting.outcome = Some(Outcome::NoCredit { why });
            return;
        }
        if self.settle(number, Outcome::NoCredit { why }, fade) {
            let missed = why == NoCreditReason::Missed;
            self.missed_in_a_row = if missed { self.missed_in_a_row + 1 } else { 0 };
        }
        // One whose run was broken already lies before that break, whatever it breaks later (R18).
        let broken = self.run.generation;
        self.break_run();
        let present = self.run.generation;
        let counts_in = &mut self.sitting_mut(number).counts_in;
        if counts_in.is_none_or(|run| run == broken) {
            *counts_in = Some(present);
        }
    }

    fn break_run(&mut self) {
        self.run.credits = 0;
        self.run.generation += 1;
    }

    fn lift(&mut self, at: Instant) {
        self.resumes += 1;
        self.sitting_cursor.from = at;
    }

    fn stop(&mut self, step: StepNumber, look: Option<LookId>, at: Instant) {
        self.standing = Standing::Stopped { step, since: at };
        self.alerts_before_stop = self.alerts;
        self.break_run();
        if let Some(number) = look.and_then(|look| self.look(look).sitting) {
            // A sitting that stopped gives no point, not even one that it had given (R19).
            let sitting = self.sitting_mut(number);
            sitting.stop();
            sitting.point = None;
        }
        for sitting in &mut self.recent_sittings {
            sitting.announced = false;
            if !sitting.settled {
                sitting.stop();
            }
        }
        for look in &mut self.recent_looks {
            if look.is_unsettled() {
                look.status = LookStatus::Withdrawn { why: WithdrawReason::Stop };
                look.settled_at = Some(at);
            }
        }
    }

    fn resume(&mut self, step: StepNumber, at: Instant) {
        if self.is_stopped() {
            self.standing = Standing::Open;
            self.alert = None;
        }
        self.phase = Phase::BuildUp { step };
        self.break_run();
        self.routine_cursor = Cursor { from: at, handled: self.routine_cursor.handled };
        self.lift(at);
    }

    fn unpause(&mut self, step: Option<StepNumber>, at: Instant) {
        self.standing = Standing::Open;
        if let Some(step) = step {
            self.phase = Phase::BuildUp { step };
        }
        self.break_run();
        self.routine_cursor.from = at;
        self.lift(at);
    }

    fn adopt(
        &mut self,
        plan: &PlanVersion,
        step: Option<StepNumber>,
        last: StepNumber,
        at: Instant,
    ) {
        self.terms.plan = plan.clone();
        if let Some(step) = step {
            self.phase = Phase::BuildUp { step };
        }
        if let Standing::Stopped { step, .. } = &mut self.standing {
            *step = (*step).min(last);
        }
        self.break_run();
        // The new plan's times of day begin with it: none of them is past yet.
        self.routine_cursor.from = at;
        self.sitting_cursor.from = self.sitting_cursor.from.max(at);
    }

    fn close(&mut self, at: Instant) {
        self.standing = Standing::Closed;
        self.alert = None;
        for sitting in &mut self.recent_sittings {
            sitting.announced = false;
            sitting.settled = true;
        }
        for look in &mut self.recent_looks {
            if look.is_unsettled() {
                look.status = LookStatus::Withdrawn { why: WithdrawReason::Closed };
                look.settled_at = Some(at);
            }
        }
    }

    fn alerted(
        &mut self,
        id: AlertId,
        cause: AlertCause,
        sending: AlertSending,
        to: &ClinicianId,
        at: Instant,
    ) {
        if sending == AlertSending::Raised {
            self.alerts += 1;
            self.alert = Some(Alert {
                id,
                cause,
                raised_at: at,
                holder: to.clone(),
                sent: BTreeMap::new(),
                last_sent: at,
                acknowledged: None,
            });
        }
        if let Some(alert) = &mut self.alert {
            *alert.sent.entry(to.clone()).or_default() += 1;
            // Shown to somebody else beside, it stays where it is, on its own clock (R22).
            if sending != AlertSending::Shown {
                alert.holder = to.clone();
                alert.last_sent = at;
            }
        }
    }

    fn told(&mut self, why: TellReason, detail: &TellDetail) {
        if let (TellReason::RepeatMarks, TellDetail::RepeatedSites { sitting, .. }) = (why, detail)
        {
            self.sitting_mut(*sitting).repeat_told = true;
        }
    }
}
