//! One invented follow-up at several moments, for the tests of notices.
//!
//! Never here: checks.
//! Promises: all people and places are invented.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime};
use fadewatch::care::plan::Approval;
use fadewatch::care::{
    ClientRef, ClinicianId, ContactId, Finding, Ladder, Limits, Minutes, Plan, PlanVersion,
    RepeatMarks, RiskLevel, Routine, Site, Step, StopTerms,
};
use fadewatch::follow_up::event::{
    AlertCause, AlertSending, Found, LookKind, NoCreditReason, RequestClock, StopReason,
};
use fadewatch::follow_up::state::Phase;
use fadewatch::follow_up::{
    AlertId, Calendar, Entry, Event, Instant, LookId, SittingNumber, State, StepNumber, Terms,
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
    let terms = Terms {
        risk: RiskLevel::new("high").unwrap(),
        plan: PlanVersion::from_hash("0".repeat(64)),
        zone: zone(),
        sittings_at: vec![clock("10:00"), clock("15:30")],
        quiet: None,
        contacts: vec![contact_id("first"), contact_id("second")],
        cover: vec![clinician_id("lee"), clinician_id("marsh")],
        begins: NaiveDate::from_ymd_opt(2026, 3, 6).unwrap(),
    };
    let mut state = State::new(terms, at("6T00:00"));
    state.phase = Phase::BuildUp { step: StepNumber::new(step) };
    state
}

/// Adds an entry to a follow-up.
pub fn add(state: &mut State, when: &str, event: Event) {
    state.apply(&Entry { at: at(when), event });
}

/// Adds a sitting with one first look at its end; returns the look.
pub fn sit(state: &mut State, start: &str, sit: u32) -> LookId {
    sit_with_looks(state, start, &[sit])[0]
}

/// Adds a sitting with looks after so many minutes each, the last at its end.
pub fn sit_with_looks(state: &mut State, start: &str, offsets: &[u32]) -> Vec<LookId> {
    let begin = at(start);
    let sitting = SittingNumber::new(count(state.sittings_count()) + 1);
    let event = Event::Sitting {
        sitting,
        step: state.step().unwrap(),
        minutes: minutes(*offsets.last().unwrap()),
        start: begin,
        slot: (zone().date(begin), zone().local(begin).time()),
        to: contact_id("first"),
        offsets: offsets.iter().copied().map(minutes).collect(),
    };
    add(state, start, event);
    state.sitting(sitting).looks.clone()
}

/// Adds a routine look.
pub fn routine_look(state: &mut State, when: &str) -> LookId {
    let look = LookId::new(count(state.looks_count()) + 1);
    let slot = (zone().date(at(when)), zone().local(at(when)).time());
    add(state, when, Event::RoutineDue { look, slot });
    look
}

/// Adds the recheck of a mark, `fade_limit` after the look.
pub fn recheck(state: &mut State, of: LookId) -> LookId {
    let marked = state.look(of);
    let look = LookId::new(count(state.looks_count()) + 1);
    let seen_at = marked.found.as_ref().unwrap().looked_at;
    let (kind, sitting, due) = (LookKind::Recheck, marked.sitting, seen_at + minutes(30).elapsed());
    let event = Event::LookPlanned { look, kind, sitting, of: Some(of), due };
    state.apply(&Entry { at: seen_at, event });
    look
}

/// A request about a look.
pub fn ask(state: &mut State, look: LookId, to: &str, when: &str) {
    let asked = state.look(look);
    let (kind, sitting, to) = (asked.kind, asked.sitting, contact_id(to));
    let again = asked.times_sent_to(&to);
    let wait_until = Some(at(when) + minutes(20).elapsed());
    let clock = match asked.clock {
        None => RequestClock::First { wait_until, over_at: at(when) + minutes(120).elapsed() },
        Some(_) => RequestClock::Again { wait_until, repeats: again },
    };
    add(state, when, Event::Asked { look, kind, sitting, to, again, clock });
}

/// A finding about a look, three minutes after it was due.
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
    state.apply(&Entry { at: looked_at, event: Event::Found { look, found, gone: false } });
}

/// A follow-up stopped on step 4 after six sittings of many kinds, with an open alert.
pub fn stopped() -> State {
    let mut state = state(3);
    let clear = sit(&mut state, "6T10:00", 45);
    find(&mut state, clear, Finding::Clear, Some(0), &[]);
    let slow = sit(&mut state, "6T15:30", 45);
    find(&mut state, slow, Finding::Faded, Some(20), &["ischium-left"]);
    let missed = sit(&mut state, "7T10:00", 45);
    let (kind, sitting) = (LookKind::First, state.look(missed).sitting);
    add(&mut state, "7T12:45", Event::Missed { look: missed, kind, sitting });
    sit(&mut state, "7T15:30", 45);
    let (sitting, why) = (SittingNumber::new(4), NoCreditReason::NoSitting);
    add(&mut state, "7T15:40", Event::NoCredit { sitting, why, fade: None });
    state.phase = Phase::BuildUp { step: StepNumber::new(4) };
    let gone = sit(&mut state, "9T10:00", 90);
    find(&mut state, gone, Finding::Marked, None, &["ischium-left"]);
    let gone = recheck(&mut state, gone);
    find(&mut state, gone, Finding::Clear, Some(30), &[]);
    let lasting = sit(&mut state, "9T15:30", 90);
    find(&mut state, lasting, Finding::Marked, None, &["ischium-left", "sacrum"]);
    let lasting = recheck(&mut state, lasting);
    find(&mut state, lasting, Finding::Persisting, None, &["ischium-left"]);
    let (why, sites) = (StopReason::Persisting, vec![site("ischium-left")]);
    let stop =
        Event::Stopped { why, sites, step: StepNumber::new(4), look: Some(lasting), by: None };
    add(&mut state, "9T17:36", stop);
    add(&mut state, "9T17:36", alerted(AlertCause::Stop, AlertSending::Raised, "lee"));
    state
}

/// An alert that goes out.
pub fn alerted(cause: AlertCause, sending: AlertSending, to: &str) -> Event {
    Event::Alerted { alert: AlertId::new(1), cause, sending, to: clinician_id(to), again: 0 }
}

fn count(len: usize) -> u32 {
    u32::try_from(len).unwrap()
}
