//! One invented follow-up at several moments, for the tests of notices.
//!
//! Never here: checks.
//! Promises: all people and places are invented.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveTime};
use fadewatch::care::plan::Approval;
use fadewatch::care::{
    ClientRef, ClinicianId, ContactId, Finding, Ladder, Limits, Minutes, Plan, PlanVersion,
    RepeatMarks, RiskLevel, Routine, Site, Step, StopTerms,
};
use fadewatch::follow_up::calendar::Cursor;
use fadewatch::follow_up::event::{AlertCause, Found, LookKind};
use fadewatch::follow_up::state::{
    Alert, Course, Look, LookClock, LookStatus, Phase, Request, Run, Sitting, Standing,
};
use fadewatch::follow_up::{
    AlertId, Calendar, Instant, LookId, SittingNumber, State, StepNumber, Terms,
};
use fadewatch::notice::{Client, Clinic, Languages, Person, Setting};

pub const REPLY_ADDRESS: &str = "checks+q7Zk2mV9xT4r@clinic.example";

/// Everything that a `Setting` borrows.
pub struct People {
    pub languages: Languages,
    pub clinic: Clinic,
    pub client: Client,
    pub contacts: BTreeMap<ContactId, Person>,
    pub clinicians: BTreeMap<ClinicianId, Person>,
}

impl People {
    pub fn writing(language: &str) -> Self {
        Self::named(language, "Sam", "Ana Ruiz")
    }

    pub fn named(language: &str, client: &str, contact: &str) -> Self {
        Self {
            languages: Languages::shipped(),
            clinic: Clinic {
                name: "Riverside Seating Clinic".to_owned(),
                phone: "01632 960 123, Mon–Fri 9–17".to_owned(),
                out_of_hours: "stay off the seat and call the on-call nurse, 01632 960 999".into(),
            },
            client: Client::new(ClientRef::new("A7").unwrap(), client),
            contacts: BTreeMap::from([
                (contact_id("first"), Person::new(contact, language)),
                (contact_id("second"), Person::new("Jo Bell", language)),
            ]),
            clinicians: BTreeMap::from([
                (clinician_id("lee"), Person::new("Dr Lee", language)),
                (clinician_id("marsh"), Person::new("T. Marsh", language)),
            ]),
        }
    }

    pub fn setting(&self) -> Setting<'_> {
        Setting {
            languages: &self.languages,
            clinic: &self.clinic,
            client: &self.client,
            contacts: &self.contacts,
            clinicians: &self.clinicians,
        }
    }
}

pub fn contact_id(id: &str) -> ContactId {
    ContactId::new(id).unwrap()
}

pub fn clinician_id(id: &str) -> ClinicianId {
    ClinicianId::new(id).unwrap()
}

pub fn site(id: &str) -> Site {
    id.parse().unwrap()
}

pub fn zone() -> Calendar {
    Calendar::new("America/Denver").unwrap()
}

/// `6T10:15` is 10:15 on 6 March 2026 on the client's clock.
pub fn at(day_and_time: &str) -> Instant {
    let (day, time) = day_and_time.split_once('T').unwrap();
    let date = NaiveDate::from_ymd_opt(2026, 3, day.parse().unwrap()).unwrap();
    zone().instant(date, clock(time))
}

fn clock(time: &str) -> NaiveTime {
    NaiveTime::parse_from_str(time, "%H:%M").unwrap()
}

fn minutes(count: u32) -> Minutes {
    Minutes::new(count)
}

pub fn plan() -> Plan {
    let step = |sit, look_every: Option<u32>| Step {
        sit: minutes(sit),
        sittings_per_day: 2,
        clear_to_advance: 4,
        look_every: look_every.map(minutes),
    };
    let ladder = Ladder {
        look_at: Vec::new(),
        steps: vec![step(15, None), step(30, None), step(45, None), step(90, Some(30))],
        routine: Some(Routine {
            look_at: vec![clock("08:00"), clock("20:00")],
            review_after_days: vec![7, 30, 90],
        }),
    };
    Plan {
        id: "two-week".to_owned(),
        title: "Building up sitting time on a new seat".to_owned(),
        approval: Some(Approval {
            by: "Dr Lee".to_owned(),
            on: NaiveDate::from_ymd_opt(2026, 3, 2).unwrap(),
        }),
        looks: Limits {
            fade_limit: minutes(30),
            slow_fade: minutes(15),
            answer_within: minutes(20),
            ask_again: 2,
            tell_clinic_after: minutes(120),
            recheck_within: minutes(60),
            missed_to_suspend: 2,
            rest_after_mark: minutes(120),
        },
        repeat_marks: Some(RepeatMarks { count: 3, of_last: 5 }),
        stop: StopTerms {
            repeat_alert: minutes(30),
            pass_on_after: minutes(60),
            bring_back_at: clock("08:00"),
            step_back: 2,
        },
        risk: BTreeMap::from([(RiskLevel::new("high").unwrap(), ladder)]),
    }
}

/// A follow-up on a step, before its first sitting.
pub fn state(step: u32) -> State {
    State {
        terms: Terms {
            risk: RiskLevel::new("high").unwrap(),
            plan: PlanVersion::from_hash("0".repeat(64)),
            zone: zone(),
            sittings_at: vec![clock("10:00"), clock("15:30")],
            quiet: None,
            contacts: vec![contact_id("first"), contact_id("second")],
            begins: NaiveDate::from_ymd_opt(2026, 3, 6).unwrap(),
        },
        unreachable: BTreeSet::new(),
        phase: Phase::BuildUp { step: StepNumber::new(step) },
        standing: Standing::Open,
        run: Run { credits: 0, generation: 0, last_credit_at: None },
        missed_in_a_row: 0,
        sittings: Vec::new(),
        looks: Vec::new(),
        gone_at: None,
        resumed_at: None,
        alert: None,
        alerts: 0,
        requests: 0,
        sitting_cursor: Cursor { from: at("6T00:00"), handled: None },
        routine_cursor: Cursor { from: at("6T00:00"), handled: None },
        midnight_decided: None,
    }
}

/// Adds a sitting with one first look at its end; returns the look.
pub fn sit(state: &mut State, start: &str, sit: u32) -> LookId {
    let due = at(start) + minutes(sit).elapsed();
    sit_with_look(state, start, sit, due)
}

/// Adds a sitting with one look at a time; returns the look.
pub fn sit_with_look(state: &mut State, start: &str, sit: u32, due: Instant) -> LookId {
    let start = at(start);
    let number = SittingNumber::new(count(state.sittings.len()) + 1);
    let look = add_look(state, LookKind::First, Some(number), None, due);
    state.sittings.push(Sitting {
        number,
        step: state.step().unwrap(),
        sit: minutes(sit),
        start,
        announcement: Request { to: contact_id("first"), at: start, order: 1 },
        announced: false,
        looks: vec![look],
        course: Course::Ran,
        cut_short: false,
        outcome: None,
        settled: false,
        counted_missed: false,
        named: BTreeSet::new(),
        repeat_told: false,
        point: None,
    });
    state.sitting_cursor =
        Cursor { from: start, handled: Some((zone().date(start), zone().local(start).time())) };
    look
}

/// Adds the recheck of a mark, `fade_limit` after the look.
pub fn recheck(state: &mut State, of: LookId) -> LookId {
    let (sitting, seen_at) = (state.look(of).sitting, state.look(of).found.clone().unwrap());
    let due = seen_at.looked_at + minutes(30).elapsed();
    let recheck = add_look(state, LookKind::Recheck, sitting, Some(of), due);
    look_mut(state, of).recheck = Some(recheck);
    if let Some(number) = sitting {
        state.sittings[number.count() as usize - 1].looks.push(recheck);
    }
    recheck
}

pub fn add_look(
    state: &mut State,
    kind: LookKind,
    sitting: Option<SittingNumber>,
    of: Option<LookId>,
    due: Instant,
) -> LookId {
    let id = LookId::new(count(state.looks.len()) + 1);
    state.looks.push(Look {
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
    });
    id
}

/// A request about a look.
pub fn ask(state: &mut State, look: LookId, to: &str, when: &str) {
    let (to, when) = (contact_id(to), at(when));
    state.requests += 1;
    let order = state.requests;
    let look = look_mut(state, look);
    look.status = LookStatus::Open;
    look.requests.push(Request { to: to.clone(), at: when, order });
    let first_asked = look.clock.as_ref().map_or(when, |clock| clock.first_asked);
    look.clock = Some(LookClock {
        first_asked,
        asking: to,
        repeats: 0,
        wait_until: Some(when + minutes(20).elapsed()),
        over_at: first_asked + minutes(120).elapsed(),
    });
}

/// A finding about a look.
pub fn find(state: &mut State, look: LookId, finding: Finding, fade: Option<u32>, sites: &[&str]) {
    let looked_at = state.look(look).due + minutes(3).elapsed();
    let found = Found {
        finding,
        fade: fade.map(minutes),
        minutes: fade.map(minutes),
        looked_at,
        said_at: looked_at,
        by: contact_id("first"),
        sites: sites.iter().map(|id| site(id)).collect(),
    };
    let look = look_mut(state, look);
    look.status = LookStatus::Answered;
    look.found = Some(found);
}

pub fn look_mut(state: &mut State, look: LookId) -> &mut Look {
    &mut state.looks[look.count() as usize - 1]
}

/// A follow-up stopped on step 4 after six sittings of many kinds, with an open alert.
pub fn stopped() -> State {
    let mut state = state(3);
    let clear = sit(&mut state, "6T10:00", 45);
    find(&mut state, clear, Finding::Clear, Some(0), &[]);
    let slow = sit(&mut state, "6T15:30", 45);
    find(&mut state, slow, Finding::Faded, Some(20), &["ischium-left"]);
    let missed = sit(&mut state, "7T10:00", 45);
    look_mut(&mut state, missed).status = LookStatus::Missed;
    let cancelled = sit(&mut state, "7T15:30", 45);
    state.sittings[3].course = Course::Cancelled;
    look_mut(&mut state, cancelled).status = LookStatus::Planned;
    state.phase = Phase::BuildUp { step: StepNumber::new(4) };
    let gone = sit(&mut state, "9T10:00", 90);
    find(&mut state, gone, Finding::Marked, None, &["ischium-left"]);
    let gone = recheck(&mut state, gone);
    find(&mut state, gone, Finding::Clear, Some(30), &[]);
    let lasting = sit(&mut state, "9T15:30", 90);
    find(&mut state, lasting, Finding::Marked, None, &["ischium-left", "sacrum"]);
    let lasting = recheck(&mut state, lasting);
    find(&mut state, lasting, Finding::Persisting, None, &["ischium-left"]);
    let (step, since) = (StepNumber::new(4), at("9T17:36"));
    state.standing = Standing::Stopped { step, since };
    state.alert = Some(Alert {
        id: AlertId::new(1),
        cause: AlertCause::Stop,
        raised_at: since,
        holder: clinician_id("lee"),
        sent: BTreeMap::from([(clinician_id("lee"), 1)]),
        last_sent: since,
        acknowledged: None,
    });
    state
}

fn count(len: usize) -> u32 {
    u32::try_from(len).unwrap()
}
