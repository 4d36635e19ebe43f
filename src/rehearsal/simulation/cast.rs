//! Who takes part in a run: a clinic, a plan, clients and their people, all drawn from one seed.
//!
//! Never here: what anybody does.
//! Promises: nobody is real; the plan and the times would pass the checks of the settings.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate, NaiveTime};

use super::dice::Dice;
use crate::care::{
    AskedHours, ClientRef, ContactId, Ladder, Limits, Minutes, Plan, RepeatMarks, RiskLevel,
    Routine, Step, StopTerms,
};
use crate::config::{
    ClientFile, Clinic, Contact, Language, MailAddress, PersonName, QuietHours, ZoneName,
    parse_clinic,
};
use crate::follow_up::Calendar;

/// Zones with clock changes of every kind, and without.
const ZONES: &[&str] = &[
    "Europe/London",
    "Europe/Paris",
    "America/Denver",
    "Australia/Lord_Howe",
    "Africa/Cairo",
    "America/Santiago",
    "Asia/Kolkata",
];

/// How somebody keeps to what they are asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// Answers within minutes.
    Prompt,
    /// Answers within the hour.
    Slow,
    /// Answers some of it.
    Forgetful,
    /// Never answers.
    Silent,
}

/// Everybody and everything that a run begins with.
#[derive(Debug)]
pub struct Cast {
    /// The clinic.
    pub clinic: Clinic,
    /// The clients with their contacts; each is enrolled when the run begins.
    pub clients: Vec<ClientFile>,
    /// The habits of people, by mail address.
    pub habits: BTreeMap<String, Habit>,
    /// How often in a thousand sittings skin is marked.
    pub marks_per_mille: u64,
    /// The first local day.
    pub begins: NaiveDate,
}

/// Draws a cast.
///
/// # Panics
/// When the fixed parts of it do not hold together, which every run would show.
pub fn draw(seed: u64) -> Cast {
    let mut dice = Dice::new(seed, 1);
    let zone = *dice.pick(ZONES);
    let begins = first_day(&mut dice, zone);
    let clinicians = dice.between(1, 3);
    let clinic = clinic(usize::try_from(clinicians).unwrap_or(1));
    let count = if dice.per_mille(150) { dice.between(2, 3) } else { 1 };
    let plan = plan(&mut dice);
    let mut habits = BTreeMap::new();
    let mut clients: Vec<ClientFile> = Vec::new();
    for number in 1..=count {
        let neighbour = clients.first().and_then(|client| client.contacts.first()).cloned();
        clients.push(client(&mut dice, (number, neighbour), zone, begins, &plan, &clinic));
    }
    // By dice of their own, so that a seed's people and days stay what they were without shifts.
    let mut shifts = Dice::new(seed, 5);
    clients.iter_mut().for_each(|client| put_on_shifts(&mut shifts, client));
    let contacts = clients.iter().flat_map(|client| &client.contacts).map(|c| &c.mail);
    let all = contacts.chain(clinic.clinicians.iter().map(|clinician| &clinician.mail));
    for mail in all {
        let habit = match dice.below(100) {
            0..50 => Habit::Prompt,
            50..70 => Habit::Slow,
            70..92 => Habit::Forgetful,
            _ => Habit::Silent,
        };
        habits.insert(mail.as_str().to_owned(), habit);
    }
    let marks_per_mille = *dice.pick(&[0, 60, 150, 400]);
    Cast { clinic, clients, habits, marks_per_mille, begins }
}

/// Half of all runs begin in the week before a change of clocks, where the zone has one.
fn first_day(dice: &mut Dice, zone: &str) -> NaiveDate {
    let start = NaiveDate::from_ymd_opt(2026, 1, 5).expect("OK because it is a day");
    let day = start + Days::new(dice.below(700));
    if dice.per_mille(500) {
        return day;
    }
    let calendar = Calendar::new(zone).expect("OK because the zones are known");
    next_clock_change(&calendar, day).map_or(day, |change| change - Days::new(dice.below(7)))
}

/// The day of the next change of clocks, within a year.
pub fn next_clock_change(calendar: &Calendar, from: NaiveDate) -> Option<NaiveDate> {
    (0..366).map(|ahead| from + Days::new(ahead)).find(|day| {
        let length = calendar.midnight(*day + Days::new(1)) - calendar.midnight(*day);
        length != chrono::TimeDelta::hours(24)
    })
}

fn clinic(clinicians: usize) -> Clinic {
    let mut text = String::from(
        "name = \"Invented Seating Clinic\"\ntime_zone = \"Europe/London\"\n\
         phone = \"01632 960 123\"\nout_of_hours = \"Call your emergency doctor.\"\n\
         data_folder = \"data\"\nplans_folder = \"plans\"\n",
    );
    let ids = &["seating", "duty", "ward"][..clinicians];
    text.push_str(&format!("cover = {ids:?}\n"));
    for id in ids {
        text.push_str(&format!(
            "[[clinician]]\nid = \"{id}\"\nname = \"Person {id}\"\n\
             mail = \"{id}@clinic.example\"\nrole = \"clinician\"\nlanguage = \"en\"\n"
        ));
    }
    text.push_str(
        "[mail]\nfrom = \"checks@clinic.example\"\ngive_up_after = \"4h\"\n\
         [mail.out]\nmaildir = \"out\"\n[mail.in]\nmaildir = \"in\"\n",
    );
    match parse_clinic("clinic.toml", &text) {
        Ok(checked) => checked.value,
        Err(problems) => panic!("the simulated clinic is refused: {problems}"),
    }
}

/// A plan within the span of what clinics use.
pub fn plan(dice: &mut Dice) -> Plan {
    let minutes = |dice: &mut Dice, of: &[u32]| Minutes::new(*dice.pick(of));
    let looks = Limits {
        fade_limit: minutes(dice, &[20, 30]),
        slow_fade: minutes(dice, &[10, 15, 20]),
        answer_within: minutes(dice, &[10, 20, 30]),
        ask_again: *dice.pick(&[0, 1, 2]),
        tell_clinic_after: minutes(dice, &[60, 120, 150]),
        recheck_within: minutes(dice, &[40, 60, 90]),
        missed_to_suspend: *dice.pick(&[1, 2, 3]),
        rest_after_mark: minutes(dice, &[0, 60, 240]),
    };
    let stop = StopTerms {
        repeat_alert: minutes(dice, &[15, 30, 60]),
        pass_on_after: minutes(dice, &[30, 60, 120]),
        bring_back_at: time(8, 0),
        step_back: *dice.pick(&[0, 1, 2]),
    };
    let repeat_marks = dice.per_mille(500).then_some(RepeatMarks { count: 2, of_last: 4 });
    let look_at = if dice.per_mille(500) { vec![time(8, 0)] } else { Vec::new() };
    let steps = [30, 45, 60, 120]
        .into_iter()
        .take(usize::try_from(dice.between(2, 4)).unwrap_or(2))
        .map(|sit| Step {
            sit: Minutes::new(sit),
            sittings_per_day: *dice.pick(&[1, 2]),
            clear_to_advance: *dice.pick(&[1, 2, 3]),
            look_every: (sit > 45 && dice.per_mille(400)).then(|| Minutes::new(30)),
        })
        .collect();
    let routine = dice.per_mille(600).then(|| Routine {
        look_at: vec![time(8, 0), time(20, 0)],
        review_after_days: vec![7, 14],
    });
    let ladder = Ladder { look_at, steps, routine };
    Plan {
        id: "simulated".to_owned(),
        title: "A plan for simulated people".to_owned(),
        approval: None,
        looks,
        repeat_marks,
        stop,
        risk: BTreeMap::from([(level(), ladder)]),
    }
}

fn client(
    dice: &mut Dice,
    (number, neighbour): (i64, Option<Contact>),
    zone: &str,
    begins: NaiveDate,
    plan: &Plan,
    clinic: &Clinic,
) -> ClientFile {
    let languages: &[&str] = if crate::reply::SHIPPED.iter().any(|(code, _)| *code == "es") {
        &["en", "es"]
    } else {
        &["en"]
    };
    let contacts = (1..=dice.between(1, 3))
        .map(|place| {
            // Often one person looks after two clients.
            if let Some(neighbour) = neighbour.clone().filter(|_| place == 1)
                && dice.per_mille(500)
            {
                return neighbour;
            }
            Contact {
                id: ContactId::new(&format!("contact-{place}")).expect("OK because it is an id"),
                name: PersonName::new(&format!("Person {number}{place}")).expect("OK: a name"),
                mail: MailAddress::new(&format!("person-{number}-{place}@home.example"))
                    .expect("OK because it is an address"),
                language: Language::new(dice.pick::<&str>(languages))
                    .expect("OK because it is a tag"),
                asked: AskedHours::ANY,
            }
        })
        .collect();
    let mut cover = clinic.cover.clone();
    if dice.per_mille(200) {
        cover.reverse();
    }
    let quiet = QuietHours { from: time(21, 0), to: time(7, 0) };
    ClientFile {
        reference: ClientRef::new(&format!("S{number}")).expect("OK because it is a reference"),
        call_name: PersonName::new("Sam").expect("OK because it is a name"),
        risk: level(),
        risk_score: None,
        time_zone: ZoneName::new(zone).expect("OK because the zones are known"),
        sittings_at: vec![time(9, 30), time(15, 0)],
        quiet: dice.per_mille(850).then_some(quiet),
        contacts,
        cover,
        plan: plan.clone(),
        begins,
        fitting: None,
    }
}

/// Hours of contacts. They begin and end at times that no change of clocks touches, so that plain
/// arithmetic can tell who is on.
const SHIFTS: &[&[&str]] = &[
    &[],
    &["Mon-Fri 07:00-15:00"],
    &["15:00-22:00"],
    &["22:00-12:00"],
    &["Sat-Sun 07:00-22:00", "Mon-Fri 12:00-22:00"],
    &["Tue,Thu 07:00-07:15"],
];

/// Some clients have contacts who come in shifts.
fn put_on_shifts(dice: &mut Dice, client: &mut ClientFile) {
    if !dice.per_mille(400) {
        return;
    }
    for contact in &mut client.contacts {
        let stretches = dice.pick(SHIFTS).iter();
        let read = stretches.map(|text| text.parse().expect("OK because they are written so"));
        contact.asked = AskedHours::new(read.collect());
    }
}

fn level() -> RiskLevel {
    RiskLevel::new("high").expect("OK because it is a level")
}

fn time(hour: u32, minute: u32) -> NaiveTime {
    NaiveTime::from_hms_opt(hour, minute, 0).expect("OK because it is a time of day")
}
