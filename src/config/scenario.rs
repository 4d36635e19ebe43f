//! Reads a scenario for a rehearsal: a plan, a client, and who says what when.
//!
//! Never here: running it; reading words.
//! Promises: refuses what the rules refuse and what cannot be read; everything else that is
//! doubtful is a warning, so that a clinic can see on paper what would happen.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate, NaiveTime};
use toml::de::DeValue;

use super::asked::{ASKED, asked_hours, doubt_gaps, first_said};
use super::document::Document;
use super::plan::{plan_table, plan_text};
use super::plan_keys::PLAN;
use super::problem::{Checked, Problems, Purpose, Report};
use super::says::{HABIT, Habit, SAYS, Says, habit, says};
use super::shape::{Key, Kind, Shape, nearest};
use super::table::{At, Table};
use super::timetable::{DayTimes, QuietHours};
use super::zone::ZoneName;
use crate::care::{AskedHours, ClientRef, ClinicianId, ContactId, Plan, RiskLevel};

/// A rehearsal's whole input, checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scenario {
    /// The plan that is rehearsed.
    pub plan: Plan,
    /// The first local day.
    pub begins: NaiveDate,
    /// Local days to run; at least one.
    pub days: u32,
    /// The client.
    pub client: ScenarioClient,
    /// The contacts in calling order; at least one, no repeats.
    pub contacts: Vec<ContactId>,
    /// The hours of contacts who are not asked at any hour.
    pub hours: BTreeMap<ContactId, AskedHours>,
    /// The clinicians in calling order; at least one, no repeats.
    pub cover: Vec<ClinicianId>,
    /// How the first contact answers unless told otherwise.
    pub habit: Option<Habit>,
    /// What people say, in the order of the file.
    pub says: Vec<Says>,
}

/// The client of a scenario.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScenarioClient {
    /// The reference.
    pub reference: ClientRef,
    /// The risk level; the plan has a ladder for it.
    pub risk: RiskLevel,
    /// The zone of all wall-clock times.
    pub time_zone: ZoneName,
    /// Sitting times in time order.
    pub sittings_at: Vec<NaiveTime>,
    /// Quiet hours; a scenario may do without.
    pub quiet: Option<QuietHours>,
}

/// A plan file that a scenario names: the name to show and the text.
pub type NamedText = (String, String);

/// Reads a scenario from a text. `open` finds the plan file that it names.
///
/// # Errors
/// All problems of the scenario and of its plan, when either cannot be used.
pub fn parse_scenario(
    name: &str,
    text: &str,
    open: impl FnOnce(&str) -> Result<NamedText, String>,
) -> Result<Checked<Scenario>, Problems> {
    let mut of_plan = Problems::default();
    let (scenario, mut problems) =
        Document::new(name, text).read(Purpose::Rehearse, |map, report| {
            let root = Table::root(map, &SCENARIO, report);
            let plan = scenario_plan(&root, open, &mut of_plan);
            read(&root, plan)
        });
    problems.append(of_plan);
    Checked::unless_refused(scenario, problems)
}

fn read(root: &Table<'_>, plan: Option<Plan>) -> Option<Scenario> {
    let begins = root.date("begins");
    let days = root.count("days");
    let client = root.table("client").and_then(|table| client(&table, plan.as_ref()));
    let tables = root.tables("contact");
    let contacts = tables.as_ref().and_then(|t| people(root, ("contact", t), ContactId::new));
    let hours = tables.as_deref().zip(contacts.as_deref()).and_then(|(t, c)| hours(t, c));
    if let (Some(plan), Some(client), Some(hours)) = (&plan, &client, &hours)
        && let Some(ladder) = plan.ladder(&client.risk)
    {
        let of_each = hours.iter().map(|(_, hours)| hours);
        let said = tables.as_deref().and_then(first_said);
        doubt_gaps(root.report, said, of_each, (ladder, &client.sittings_at));
    }
    let cover = root.tables("cover");
    let cover = cover.as_ref().and_then(|t| people(root, ("cover", t), ClinicianId::new));
    if let (Some(contacts), Some(cover)) = (&contacts, &cover) {
        refuse_shared_ids(root, contacts, cover);
    }
    let habit = read_optional(root.has("habit"), root.table("habit"), |table| habit(&table));
    let said = match (&contacts, &cover) {
        (Some(contacts), Some(cover)) => said(root, contacts, cover),
        _ => None,
    };
    if let (Some(begins), Some(days), Some(said)) = (&begins, &days, &said) {
        warn_of_days_outside(root, begins, days, said);
    }
    Some(Scenario {
        plan: plan?,
        begins: begins?.value,
        days: days?.value,
        client: client?,
        contacts: contacts?.into_iter().map(|at| at.value).collect(),
        hours: hours?.into_iter().filter(|(_, hours)| !hours.is_any()).collect(),
        cover: cover?.into_iter().map(|at| at.value).collect(),
        habit: habit?,
        says: said?.into_iter().map(|at| at.value).collect(),
    })
}

/// A part that may be absent: absent is fine, present and unreadable is not.
fn read_optional<T, U>(
    present: bool,
    part: Option<T>,
    read: impl FnOnce(T) -> Option<U>,
) -> Option<Option<U>> {
    match part {
        Some(part) => read(part).map(Some),
        None if present => None,
        None => Some(None),
    }
}

fn scenario_plan(
    root: &Table<'_>,
    open: impl FnOnce(&str) -> Result<NamedText, String>,
    of_plan: &mut Problems,
) -> Option<Plan> {
    let (key, value) = root.raw("plan")?;
    match value.get_ref() {
        DeValue::Table(_) => plan_table(&root.table("plan")?),
        DeValue::String(path) => match open(path) {
            Ok((name, text)) => {
                let (plan, problems) = plan_text(&name, &text, Purpose::Rehearse);
                of_plan.append(problems);
                plan
            }
            Err(reason) => {
                root.report
                    .error(value.span(), format!("the plan \"{path}\" cannot be read"))
                    .label(reason)
                    .why("the path counts from the folder of the scenario")
                    .help("name a plan file, or write the plan into the scenario: `[plan]`");
                None
            }
        },
        _ => {
            root.wrong_kind(key, value);
            None
        }
    }
}

fn client(table: &Table<'_>, plan: Option<&Plan>) -> Option<ScenarioClient> {
    let reference = table.parsed("ref", ClientRef::new);
    let risk = table.parsed("risk", RiskLevel::new);
    let time_zone = table.zone("time_zone");
    let times = DayTimes::read(table);
    let mut known_level = true;
    if let (Some(plan), Some(risk)) = (plan, &risk) {
        match plan.ladder(&risk.value) {
            Some(ladder) => {
                if let Some(times) = &times {
                    times.check(table, &risk.value, ladder);
                }
            }
            None => {
                known_level = false;
                unknown_level(table.report, risk, plan);
            }
        }
    }
    let times = times?;
    Some(ScenarioClient {
        reference: reference?.value,
        risk: risk.filter(|_| known_level)?.value,
        time_zone: time_zone?.value,
        sittings_at: times.sittings(),
        quiet: times.quiet.map(|quiet| quiet.value),
    })
}

/// Records that a plan has no ladder for a level.
pub(super) fn unknown_level(report: &Report, risk: &At<RiskLevel>, plan: &Plan) {
    let levels: Vec<&str> = plan.risk.keys().map(RiskLevel::as_str).collect();
    let help = match nearest(risk.value.as_str(), levels.iter().copied()) {
        Some(meant) => format!("did you mean \"{meant}\"?"),
        None => format!("the plan has {}", super::shape::listed(&levels, "and")),
    };
    report
        .error(risk.span.clone(), format!("the plan has no risk level \"{}\"", risk.value))
        .label(format!("not a level of plan \"{}\"", plan.id))
        .why("the level chooses the ladder of sitting times")
        .help(help);
}

/// The people of one list, in calling order, none twice.
fn people<T: PartialEq, E: std::fmt::Display>(
    root: &Table<'_>,
    (list, tables): (&str, &[Table<'_>]),
    read: impl Fn(&str) -> Result<T, E>,
) -> Option<Vec<At<T>>> {
    if tables.is_empty() {
        root.report
            .error(root.key_span(list), format!("there is no `{list}`"))
            .label("at least one is needed")
            .help(format!("add one: `[[{list}]]` with an `id`"));
        return None;
    }
    let mut people: Vec<At<T>> = Vec::new();
    let mut complete = true;
    for table in tables {
        let Some(id) = table.parsed("id", |id| read(id)) else {
            complete = false;
            continue;
        };
        if let Some(earlier) = people.iter().find(|earlier| earlier.value == id.value) {
            root.report
                .error(id.span.clone(), format!("two `{list}` entries have the same id"))
                .label("the second one")
                .beside(earlier.span.clone(), "the first one")
                .why("an id stands for one person");
            complete = false;
        }
        people.push(id);
    }
    complete.then_some(people)
}

/// The hours of each contact.
fn hours(tables: &[Table<'_>], contacts: &[At<ContactId>]) -> Option<Vec<(ContactId, AskedHours)>> {
    let of_each = contacts.iter().zip(tables);
    let read: Vec<_> = of_each
        .filter_map(|(contact, table)| Some((contact.value.clone(), asked_hours(table)?)))
        .collect();
    (read.len() == contacts.len()).then_some(read)
}

fn refuse_shared_ids(root: &Table<'_>, contacts: &[At<ContactId>], cover: &[At<ClinicianId>]) {
    for clinician in cover {
        let same = contacts.iter().find(|c| c.value.as_str() == clinician.value.as_str());
        if let Some(contact) = same {
            root.report
                .error(clinician.span.clone(), "a clinician has the id of a contact".to_owned())
                .label("a clinician")
                .beside(contact.span.clone(), "a contact")
                .why("what they say could not be told apart");
        }
    }
}

fn said(
    root: &Table<'_>,
    contacts: &[At<ContactId>],
    cover: &[At<ClinicianId>],
) -> Option<Vec<At<Says>>> {
    if !root.has("says") {
        return Some(Vec::new());
    }
    let tables = root.tables("says")?;
    let contacts: Vec<&ContactId> = contacts.iter().map(|at| &at.value).collect();
    let cover: Vec<&ClinicianId> = cover.iter().map(|at| &at.value).collect();
    let read: Vec<At<Says>> = tables
        .iter()
        .filter_map(|table| {
            let span = table.value_span("at");
            says(table, &contacts, &cover).map(|value| At { value, span })
        })
        .collect();
    (read.len() == tables.len()).then_some(read)
}

fn warn_of_days_outside(
    root: &Table<'_>,
    begins: &At<NaiveDate>,
    days: &At<u32>,
    said: &[At<Says>],
) {
    let end = begins.value.checked_add_days(Days::new(days.value.into()));
    for says in said {
        let super::SaidAt::Wall(at) = says.value.at else { continue };
        let outside = at.date() < begins.value || end.is_some_and(|end| at.date() >= end);
        if outside {
            root.report
                .warning(
                    says.span.clone(),
                    "this is said outside the days of the scenario".to_owned(),
                )
                .label("nobody hears it")
                .help(format!("the scenario runs {} days from {} on", days.value, begins.value));
        }
    }
}

/// The longest rehearsal: ten years.
const DAYS_MAX: u32 = 3650;

/// The outermost table of a scenario.
pub(super) static SCENARIO: Shape = Shape {
    name: "the scenario",
    keys: &[
        Key::required(
            "plan",
            Kind::PathOrTable(&PLAN),
            "\"two-week.toml\"",
            "the plan that is rehearsed: a path from this file, or a table `[plan]`",
        ),
        Key::required("begins", Kind::Date, "2026-03-06", "the first local day"),
        Key::required("days", Kind::Count(1, DAYS_MAX), "14", "how many local days are run"),
        Key::required("client", Kind::Table(&CLIENT), "[client]", "whom the plan is rehearsed for"),
        Key::required(
            "contact",
            Kind::Tables(&CONTACT),
            "[[contact]]\nid = \"first\"",
            "the people who are asked, in calling order",
        ),
        Key::required(
            "cover",
            Kind::Tables(&CLINICIAN),
            "[[cover]]\nid = \"clinic\"",
            "the clinicians who get alerts, in calling order",
        ),
        Key::optional(
            "habit",
            Kind::Table(&HABIT),
            "[habit]",
            "how the first contact answers each sending",
        ),
        Key::optional("says", Kind::Tables(&SAYS), "[[says]]", "one reply"),
    ],
};

static CLIENT: Shape = Shape {
    name: "[client]",
    keys: &[
        Key::required("ref", Kind::Id, "\"A7\"", "the clinic's reference for the client"),
        Key::required("risk", Kind::Id, "\"high\"", "the risk level, which chooses the ladder"),
        Key::required(
            "time_zone",
            Kind::Text,
            "\"America/Denver\"",
            "the zone of all wall-clock times",
        ),
        Key::required(
            "sittings_at",
            Kind::Times,
            "[\"10:00\", \"15:30\"]",
            "the times of day at which sittings begin (R2)",
        ),
        Key::optional(
            "quiet",
            Kind::Times,
            "[\"21:00\", \"07:00\"]",
            "the hours in which nobody is asked, from and to (R24)",
        ),
    ],
};

static CONTACT: Shape = Shape {
    name: "[[contact]]",
    keys: &[Key::required("id", Kind::Id, "\"first\"", "the short name of the person"), ASKED],
};

static CLINICIAN: Shape = Shape {
    name: "[[cover]]",
    keys: &[Key::required("id", Kind::Id, "\"clinic\"", "the short name of the person")],
};
