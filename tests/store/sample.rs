//! An invented client on an invented plan.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime, TimeDelta};
use fadewatch::care::plan::Approval;
use fadewatch::care::{
    ClientRef, ClinicianId, ContactId, Ladder, Limits, Minutes, Plan, PlanVersion, RiskLevel, Step,
    StopTerms,
};
use fadewatch::follow_up::{Basis, Calendar, Entry, Event, Instant, Occasion, State, Terms};
use fadewatch::store::{Appended, Enrolment, FollowUpId, Loaded, OccasionRecord, StoreError, Tx};
use serde_json::json;

/// Minutes after the sample's first sitting, which is at 09:00 UTC.
pub fn at(minutes: i64) -> Instant {
    let begin = NaiveDate::from_ymd_opt(2027, 2, 1).unwrap().and_hms_opt(9, 0, 0).unwrap();
    begin.and_utc() + TimeDelta::minutes(minutes)
}

pub fn version() -> PlanVersion {
    PlanVersion::from_hash("5a".repeat(32))
}

pub fn enroll(tx: &mut Tx<'_>, client: &ClientRef) -> Result<FollowUpId, StoreError> {
    tx.add_plan(&version(), &plan(), at(-60))?;
    let (entries, state) = first_entries();
    let occasion = OccasionRecord {
        follow_up: None,
        kind: "enroll".to_owned(),
        at: at(-60),
        detail: json!({ "by": "ot-1" }),
    };
    let next_due = state.next_due(&Basis { plan: &plan(), cover: &cover() });
    tx.enroll(&Enrolment {
        client,
        occasion: &occasion,
        entries: &entries,
        state: &state,
        next_due,
    })
}

pub fn clock(tx: &mut Tx<'_>, follow_up: FollowUpId, now: Instant) -> Result<Appended, StoreError> {
    let loaded = tx.load(follow_up)?;
    let occasion = due(now);
    let kept = tx.add_occasion(&occasion)?;
    tx.append(&moved_on(&loaded, &occasion, now), kept)
}

/// What is due at an instant, as a change on what was loaded.
pub fn moved_on(
    loaded: &Loaded,
    occasion: &OccasionRecord,
    now: Instant,
) -> fadewatch::store::Change {
    let (plan, cover) = (plan(), cover());
    let basis = Basis { plan: &plan, cover: &cover };
    let mut state = loaded.state.clone();
    let entries = state.advance(basis, &Occasion::Clock, now);
    let next_due = state.next_due(&basis);
    loaded.change(occasion, &entries, &state, next_due)
}

pub fn due(now: Instant) -> OccasionRecord {
    OccasionRecord { follow_up: None, kind: "due".to_owned(), at: now, detail: json!({}) }
}

pub fn contact() -> ContactId {
    ContactId::new("sam").unwrap()
}

pub fn cover() -> [ClinicianId; 1] {
    [ClinicianId::new("ot-1").unwrap()]
}

fn first_entries() -> ([Entry; 1], State) {
    let terms = Terms {
        risk: RiskLevel::new("high").unwrap(),
        plan: version(),
        zone: Calendar::new("UTC").unwrap(),
        sittings_at: vec![NaiveTime::from_hms_opt(9, 0, 0).unwrap()],
        quiet: None,
        contacts: vec![contact()],
        cover: Vec::new(),
        begins: NaiveDate::from_ymd_opt(2027, 2, 1).unwrap(),
    };
    let event = Event::Enrolled { terms: Box::new(terms), from: at(-60) };
    let entry = Entry { at: at(-60), event };
    let state = State::fold(None, &entry);
    ([entry], state)
}

pub fn plan() -> Plan {
    let step =
        Step { sit: Minutes::new(30), sittings_per_day: 1, clear_to_advance: 3, look_every: None };
    let ladder = Ladder { look_at: Vec::new(), steps: vec![step], routine: None };
    Plan {
        id: "sample".to_owned(),
        title: "A sample".to_owned(),
        approval: Some(Approval {
            by: "ot-1".to_owned(),
            on: NaiveDate::from_ymd_opt(2027, 1, 4).unwrap(),
        }),
        looks: Limits {
            fade_limit: Minutes::new(30),
            slow_fade: Minutes::new(15),
            answer_within: Minutes::new(30),
            ask_again: 2,
            tell_clinic_after: Minutes::new(240),
            recheck_within: Minutes::new(60),
            missed_to_suspend: 1_000_000,
            rest_after_mark: Minutes::new(60),
        },
        repeat_marks: None,
        stop: StopTerms {
            repeat_alert: Minutes::new(30),
            pass_on_after: Minutes::new(60),
            bring_back_at: NaiveTime::from_hms_opt(8, 0, 0).unwrap(),
            step_back: 1,
        },
        risk: BTreeMap::from([(RiskLevel::new("high").unwrap(), ladder)]),
    }
}
