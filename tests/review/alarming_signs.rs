//! Every sign that a published source calls one of damage, infection or emergency leads to a stop,
//! in a caregiver's words: through the reader of replies and the core.

use chrono::{NaiveDate, NaiveTime};
use fadewatch::care::{ClinicianId, ContactId, Plan, RiskLevel, Verdict};
use fadewatch::config::{plan_version, read_plan};
use fadewatch::follow_up::event::StopReason;
use fadewatch::follow_up::{Aim, Basis, Calendar, Entry, Event, Instant, Occasion, State, Terms};
use fadewatch::reply::{Answering, Lexicons, read};

/// The sign, where it is published, and how somebody at home may write of it.
const SIGNS: &[(&str, &[&str])] = &[
    // Stages: NPIAP consensus 2016.
    (
        "stage 1: does not blanch",
        &[
            "red patch on the sit bone, it stays red when I press it",
            "there is a dark patch and it does not go white when pressed",
        ],
    ),
    (
        "stage 2: partial thickness, open",
        &[
            "the skin is open on the left sit bone",
            "skin broken at the tailbone, pink and moist",
            "a raw spot where the top skin has come off",
        ],
    ),
    (
        "stage 2: serum blister",
        &["a blister with clear fluid on the right sit bone", "there's a burst blister"],
    ),
    (
        "stage 3: fat, rolled edges, slough",
        &[
            "a deep sore, I can see yellow fat",
            "there is a hole in the skin with yellow slough in it",
        ],
    ),
    (
        "stage 4: muscle, tendon or bone",
        &["I can see bone in the wound", "deep wound, muscle is showing"],
    ),
    (
        "unstageable: slough or eschar",
        &["a black scab over the sore", "hard black crust on the heel"],
    ),
    // Deep tissue: NPIAP 2016 and 2021; a teaching card.
    (
        "deep tissue: maroon or purple",
        &[
            "purple patch over the sit bone",
            "the skin has turned maroon",
            "a dark purple bruise on the tailbone",
        ],
    ),
    (
        "deep tissue: blood blister",
        &["a blood blister on the left heel", "blister filled with blood"],
    ),
    ("deep tissue: separating skin", &["the skin is peeling off and dark underneath"]),
    ("deep tissue: firm", &["the spot feels hard", "there is a firm lump under the skin"]),
    ("deep tissue: mushy or boggy", &["it feels mushy", "the area is boggy"]),
    ("deep tissue: warmer", &["it feels hot", "the patch is warmer than the skin around it"]),
    ("deep tissue: cooler", &["the patch is colder than the skin beside it"]),
    ("deep tissue: painful", &["it hurts there", "he has new pain at the tailbone"]),
    // Infection and sepsis: UK and US patient leaflets.
    ("infection: hot, swollen", &["it is swollen and hot", "the redness is spreading and swollen"]),
    ("infection: pus", &["there is pus coming out", "yellow discharge from the spot"]),
    ("infection: odour", &["the sore smells bad", "there is a foul smell"]),
    ("infection: blood", &["there is some blood on the cover", "it is bleeding"]),
    ("infection: fever", &["she has a fever", "temperature of 38.5", "his temperature is 101 F"]),
    ("infection: chills", &["he has chills", "she is shivering"]),
    (
        "infection: severe or worsening pain",
        &["severe pain at the sit bone", "the pain is getting worse"],
    ),
    ("sepsis: confusion", &["he seems confused", "she is confused and feverish"]),
    ("sepsis: dizzy or faint", &["he feels dizzy and faint"]),
    ("sepsis: fast heartbeat, cold skin", &["her heart is racing and the skin is cold and clammy"]),
    // Autonomic dysreflexia.
    (
        "dysreflexia: headache, sweating, flushing",
        &[
            "pounding headache and sweating",
            "his face is flushed, he is sweating and has a headache",
        ],
    ),
    (
        "dysreflexia: blood pressure",
        &["blood pressure suddenly went up", "his blood pressure is very high"],
    ),
];

fn plan() -> Plan {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/config/plans/two-week.toml");
    read_plan(path.as_ref()).unwrap().value
}

/// A follow-up whose first look has just been asked, and when.
fn asked(plan: &Plan, cover: &[ClinicianId]) -> (State, Instant) {
    let time = |hour| NaiveTime::from_hms_opt(hour, 0, 0).unwrap();
    let zone = Calendar::new("Europe/London").unwrap();
    let begins = NaiveDate::from_ymd_opt(2026, 3, 6).unwrap();
    let from = zone.midnight(begins);
    let terms = Terms {
        risk: RiskLevel::new("high").unwrap(),
        plan: plan_version(plan),
        zone,
        sittings_at: vec![time(10), time(15)],
        quiet: None,
        contacts: vec![ContactId::new("first").unwrap()],
        cover: Vec::new(),
        begins,
    };
    let first = Entry { at: from, event: Event::Enrolled { terms: Box::new(terms), from } };
    let mut state = State::fold(None, &first);
    let basis = Basis { plan, cover };
    loop {
        let next = state.next_due(&basis).unwrap();
        let entries = state.advance(basis, &Occasion::Clock, next);
        if entries.iter().any(|entry| matches!(entry.event, Event::Asked { .. })) {
            return (state, next);
        }
    }
}

#[test]
fn every_published_alarming_sign_leads_to_a_stop_and_an_alert() {
    let (plan, cover) = (plan(), vec![ClinicianId::new("seating").unwrap()]);
    let lexicons = Lexicons::shipped();
    let (state, now) = asked(&plan, &cover);
    let mut missed = Vec::new();
    for (sign, said) in SIGNS {
        for words in *said {
            let found = read(&lexicons, "en", Answering::Look, words);
            if !stops(&state, Basis { plan: &plan, cover: &cover }, &found.verdict, now) {
                missed.push(format!("{sign}: \"{words}\" is {}", found.verdict.reading));
            }
        }
    }
    assert!(missed.is_empty(), "{} signs do not stop:\n{}", missed.len(), missed.join("\n"));
}

fn stops(state: &State, basis: Basis<'_>, verdict: &Verdict, now: Instant) -> bool {
    let by = ContactId::new("first").unwrap();
    let occasion = Occasion::Reply { by, verdict: verdict.clone(), aim: Aim::Newest };
    let entries = state.decide(basis, &occasion, now);
    let is_stop = |entry: &Entry| {
        matches!(&entry.event, Event::Stopped { why, .. } if *why == StopReason::Alarming
            || *why == StopReason::Persisting)
    };
    entries.iter().any(is_stop)
        && entries.iter().any(|entry| matches!(entry.event, Event::Alerted { .. }))
}
