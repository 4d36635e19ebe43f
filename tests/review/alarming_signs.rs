//! Published signs of damage and infection lead to a stop, in a caregiver's words: through the
//! reader of replies and the core.

use chrono::{NaiveDate, NaiveTime};
use fadewatch::care::{ClinicianId, ContactId, Plan, RiskLevel, Verdict};
use fadewatch::config::{plan_version, read_plan};
use fadewatch::follow_up::event::{LookKind, StopReason};
use fadewatch::follow_up::{Aim, Basis, Calendar, Entry, Event, Instant, Occasion, State, Terms};
use fadewatch::reply::{Answering, Lexicons, read};

/// A sign, and how somebody at home may write of it.
type Sign = (&'static str, &'static [&'static str]);

/// Signs that stop at once, whatever was asked.
const AT_ONCE: &[Sign] = &[
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
        "stage 3: fat, slough",
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
    // Deep tissue: NPIAP 2016 and 2021; a teaching card on deep tissue injury.
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
    (
        "deep tissue: separating skin",
        &[
            "the skin is peeling off and dark underneath",
            "the top skin is lifting off over the dark patch",
        ],
    ),
    ("deep tissue: firm", &["the spot feels hard", "there is a firm lump under the skin"]),
    ("deep tissue: mushy or boggy", &["it feels mushy", "the area is boggy"]),
    ("deep tissue: painful", &["it hurts there", "he has new pain at the tailbone"]),
    // Danger signs: UK and US patient leaflets.
    ("hot, swollen", &["it feels hot", "it is swollen and hot", "the redness is spreading"]),
    ("pus", &["there is pus coming out", "yellow discharge from the spot"]),
    ("odour", &["the sore smells bad", "there is a foul smell"]),
    ("blood", &["there is some blood on the cover", "it is bleeding"]),
    ("severe or worsening pain", &["severe pain at the sit bone", "the pain is getting worse"]),
    (
        "fever with a mark",
        &[
            "red mark on the sit bone and she has a fever",
            "there is a dark patch and his temperature is 38.5",
            "red patch, she is shivering",
            "red mark, temperature 100.4",
        ],
    ),
    // Fever, chills, confusion: spread to the blood (University of Chicago health library).
    ("spread to the blood", &["red mark and she has chills", "dark patch and he is confused"]),
    (
        "cold skin with a fast heartbeat, faint",
        &[
            "red mark and her skin is cold and her heart is racing",
            "dark patch and she feels faint",
            "dark patch and she is dizzy",
        ],
    ),
    // Autonomic dysreflexia, after a spinal cord injury at T6 or above.
    (
        "dysreflexia",
        &[
            "red mark and a pounding headache",
            "red mark and his blood pressure suddenly went up",
            "dark patch, bp is high",
        ],
    ),
];

/// The same signs in the other shipped languages.
const IN_OTHER_LANGUAGES: &[(&str, &[&str])] = &[
    (
        "de",
        &[
            "eine Blase an der Ferse",
            "die Haut ist offen",
            "es riecht schlecht",
            "da kommt Eiter raus",
            "rote Stelle und Fieber",
            "Stelle und Schüttelfrost",
            "lila Fleck und hart",
            "heiß und geschwollen",
            "die Haut ist schwarz",
            "neue Schmerzen am Steißbein",
        ],
    ),
    (
        "es",
        &[
            "hay una ampolla en el talón",
            "la piel está abierta",
            "huele mal",
            "sale pus",
            "marca roja y tiene fiebre",
            "marca y escalofríos",
            "una mancha morada y dura",
            "está caliente e hinchada",
            "la piel está negra",
            "le duele mucho",
        ],
    ),
    (
        "fr",
        &[
            "une cloque au talon",
            "la peau est ouverte",
            "ça sent mauvais",
            "il y a du pus",
            "marque rouge et fièvre",
            "marque et frissons",
            "tache violette et dure",
            "chaude et gonflée",
            "la peau est noire",
            "nouvelle douleur au coccyx",
        ],
    ),
];

/// Signs that may pass: off the seat at once, and a stop where they are still there at the recheck.
/// Skin is a little warm just after sitting.
const IF_IT_LASTS: &[(&str, &str, &str)] = &[
    (
        "deep tissue: warmer",
        "the patch is warmer than the skin around it",
        "still warmer than the skin around it",
    ),
    (
        "deep tissue: cooler",
        "the patch is colder than the skin beside it",
        "the patch is still colder than the skin beside it",
    ),
    ("persistence", "a darker patch on the left sit bone", "the darker patch is still there"),
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
    let basis = Basis { plan: &plan, cover: &cover };
    let lexicons = Lexicons::shipped();
    let (state, now) = asked(&plan, &cover);
    let mut missed = Vec::new();
    for (sign, said) in AT_ONCE {
        for words in *said {
            let found = read(&lexicons, "en", Answering::Look, words);
            let entries = state.decide(basis, &says(&found.verdict), now);
            if !is_stop_with_alert(&entries) {
                missed.push(format!("{sign}: \"{words}\" is {}", found.verdict.reading));
            }
        }
    }
    for (language, said) in IN_OTHER_LANGUAGES {
        for words in *said {
            let found = read(&lexicons, language, Answering::Look, words);
            let entries = state.decide(basis, &says(&found.verdict), now);
            if !is_stop_with_alert(&entries) {
                missed.push(format!("{language}: \"{words}\" is {}", found.verdict.reading));
            }
        }
    }
    assert!(missed.is_empty(), "{} signs do not stop:\n{}", missed.len(), missed.join("\n"));
}

#[test]
fn a_sign_that_may_pass_is_a_stop_where_it_is_still_there_at_the_recheck() {
    let (plan, cover) = (plan(), vec![ClinicianId::new("seating").unwrap()]);
    let basis = Basis { plan: &plan, cover: &cover };
    let lexicons = Lexicons::shipped();
    for (sign, at_first, at_recheck) in IF_IT_LASTS {
        let (mut state, now) = asked(&plan, &cover);
        let first = read(&lexicons, "en", Answering::Look, at_first);
        let entries = state.advance(basis, &says(&first.verdict), now);
        let recheck = |entry: &Entry| {
            matches!(entry.event, Event::LookPlanned { kind: LookKind::Recheck, .. })
        };
        assert!(entries.iter().any(recheck), "{sign}: \"{at_first}\"");
        let due = state.next_due(&basis).unwrap();
        state.advance(basis, &Occasion::Clock, due);
        let second = read(&lexicons, "en", Answering::Recheck, at_recheck);
        let entries = state.decide(basis, &says(&second.verdict), due);
        assert!(is_stop_with_alert(&entries), "{sign}: \"{at_recheck}\"");
    }
}

fn says(verdict: &Verdict) -> Occasion {
    let by = ContactId::new("first").unwrap();
    Occasion::Reply { by, verdict: verdict.clone(), aim: Aim::Newest }
}

fn is_stop_with_alert(entries: &[Entry]) -> bool {
    let is_stop = |entry: &Entry| {
        let Event::Stopped { why, .. } = &entry.event else { return false };
        matches!(why, StopReason::Alarming | StopReason::Persisting)
    };
    entries.iter().any(is_stop)
        && entries.iter().any(|entry| matches!(entry.event, Event::Alerted { .. }))
}
