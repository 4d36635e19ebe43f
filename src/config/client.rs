//! Reads a client file: whom a follow-up is for, who is asked, by which plan, from when.
//!
//! Never here: enrolling; the journal.
//! Promises: what is read can be enrolled as it stands: the plan is approved and has the level,
//! the times fit the plan and the quiet hours, everybody can be told apart.

use chrono::{Days, NaiveDate, NaiveTime};

use super::asked::{ASKED, asked_hours, doubt_gaps, first_said};
use super::clinic::{Clinic, cover};
use super::document::Document;
use super::fitting::fitting;
use super::fitting_keys::FITTING;
use super::person::{Language, MailAddress, PersonName, refuse_repeats};
use super::plan::plan_text;
use super::problem::{Checked, Problems, Purpose};
use super::risk_scores::{RISK_SCORE, RiskScore, risk_score};
use super::scenario::{NamedText, unknown_level};
use super::shape::{Key, Kind, Shape};
use super::table::{At, Table};
use super::timetable::{DayTimes, QuietHours};
use super::zone::ZoneName;
use crate::care::{AskedHours, ClientRef, ClinicianId, ContactId, Fitting, Plan, RiskLevel};

/// A client to enrol, checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClientFile {
    /// The clinic's reference, the only thing that logs and subjects may carry.
    pub reference: ClientRef,
    /// What contacts call the client.
    pub call_name: PersonName,
    /// The risk level; the plan has a ladder for it.
    pub risk: RiskLevel,
    /// The published score that led to the level, where the file gives a score.
    pub risk_score: Option<RiskScore>,
    /// The zone of all wall-clock times.
    pub time_zone: ZoneName,
    /// Sitting times in time order, no repeats.
    pub sittings_at: Vec<NaiveTime>,
    /// Quiet hours; none where the file says `quiet = []`.
    pub quiet: Option<QuietHours>,
    /// The contacts in calling order; at least one, no repeats.
    pub contacts: Vec<Contact>,
    /// Who gets alerts about this client, in calling order.
    pub cover: Vec<ClinicianId>,
    /// The plan; approved.
    pub plan: Plan,
    /// The first local day.
    pub begins: NaiveDate,
    /// How the seat was fitted; none where the clinic does not ask for it.
    pub fitting: Option<Fitting>,
}

/// Somebody who is asked to look.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contact {
    /// The short id.
    pub id: ContactId,
    /// The name.
    pub name: PersonName,
    /// Where requests go and answers come from.
    pub mail: MailAddress,
    /// The language they are written to in.
    pub language: Language,
    /// The hours in which they are asked, by the client's clock.
    pub asked: AskedHours,
}

/// Reads a client file from a text. `open` finds a plan's file by the plan's id; `today` is the day
/// in the clinic's zone.
///
/// # Errors
/// All problems of the client and of the plan, when the client cannot be enrolled.
pub fn parse_client(
    name: &str,
    text: &str,
    clinic: &Clinic,
    today: NaiveDate,
    open: impl FnOnce(&str) -> Result<NamedText, String>,
) -> Result<Checked<ClientFile>, Problems> {
    let mut of_plan = Problems::default();
    let (client, mut problems) = Document::new(name, text).read(Purpose::Serve, |map, report| {
        let root = Table::root(map, &CLIENT, report);
        let plan = approved_plan(&root, open, &mut of_plan);
        read(&root, clinic, today, plan)
    });
    problems.append(of_plan);
    Checked::unless_refused(client, problems)
}

fn read(
    root: &Table<'_>,
    clinic: &Clinic,
    today: NaiveDate,
    plan: Option<Plan>,
) -> Option<ClientFile> {
    let reference = root.parsed("ref", ClientRef::new);
    let call_name = root.parsed("call_name", PersonName::new);
    let time_zone = root.zone("time_zone");
    let level = level(root, clinic);
    let times = DayTimes::read(root);
    if let (Some(plan), Some((risk, _))) = (&plan, &level) {
        match (plan.ladder(&risk.value), &times) {
            (Some(ladder), Some(times)) => times.check(root, &risk.value, ladder),
            (Some(_), None) => {}
            (None, _) => unknown_level(root.report, risk, plan),
        }
    }
    let tables = root.tables("contact");
    let contacts = tables.as_ref().and_then(|tables| contacts(root, tables, clinic));
    let ladder =
        plan.as_ref().zip(level.as_ref()).and_then(|(plan, (risk, _))| plan.ladder(&risk.value));
    if let (Some(ladder), Some(times), Some(contacts)) = (ladder, &times, &contacts) {
        let hours = contacts.iter().map(|contact| &contact.asked);
        let said = tables.as_deref().and_then(first_said);
        doubt_gaps(root.report, said, hours, (ladder, &times.sittings()));
    }
    let cover = if root.has("cover") {
        cover(root, &clinic.clinicians)
    } else {
        Some(clinic.cover.clone())
    };
    let begins = root.date("begins");
    if let Some(begins) = &begins {
        doubt_begin(root, begins, today);
    }
    let fitting = fitted(root, clinic, today);
    let (times, (risk, risk_score)) = (times?, level?);
    Some(ClientFile {
        reference: reference?.value,
        call_name: call_name?.value,
        risk: risk.value,
        risk_score,
        time_zone: time_zone?.value,
        sittings_at: times.sittings(),
        quiet: times.quiet.map(|quiet| quiet.value),
        contacts: contacts?,
        cover: cover?,
        plan: plan?,
        begins: begins?.value,
        fitting: fitting?,
    })
}

/// The fitting, where there is one; a clinic can ask that there is.
fn fitted(root: &Table<'_>, clinic: &Clinic, today: NaiveDate) -> Option<Option<Fitting>> {
    if root.has("fitting") {
        return root.table("fitting").and_then(|table| fitting(&table, today)).map(Some);
    }
    if clinic.fitting_required {
        root.report
            .error(None, "the client file lacks `[fitting]`".to_owned())
            .why("the clinic asks for the fitting before sitting begins: `fitting_required = true`")
            .help("add the table `[fitting]`; the shipped client file shows all of it")
            .for_absence();
        return None;
    }
    Some(None)
}

fn approved_plan(
    root: &Table<'_>,
    open: impl FnOnce(&str) -> Result<NamedText, String>,
    of_plan: &mut Problems,
) -> Option<Plan> {
    let id = root.text("plan")?;
    let (name, text) = match open(id.value) {
        Ok(named_text) => named_text,
        Err(reason) => {
            root.report
                .error(id.span, format!("no plan \"{}\"", id.value))
                .label(reason)
                .why("a plan is found by its id, as ID.toml in the clinic's folder of plans");
            return None;
        }
    };
    let (plan, problems) = plan_text(&name, &text, Purpose::Serve);
    of_plan.append(problems);
    let plan = plan?;
    if plan.id != id.value {
        root.report
            .error(id.span, format!("the plan in {name} has the id \"{}\"", plan.id))
            .label("not the id that its file is named after")
            .help("give the file the name of the plan's id");
        return None;
    }
    if plan.approval.is_none() {
        root.report
            .error(id.span, format!("the plan \"{}\" is not approved", plan.id))
            .label("nobody in the clinic has approved it")
            .why("a plan decides when skin is looked at; real clients run on approved ones only")
            .help(format!(
                "have it checked in the clinic, then fill in `approved_by` and `approved_on` \
                 in {name}"
            ));
        return None;
    }
    Some(plan)
}

/// The risk level, named or by a published score: exactly one of the two.
pub(super) fn level(
    root: &Table<'_>,
    clinic: &Clinic,
) -> Option<(At<RiskLevel>, Option<RiskScore>)> {
    match (root.has("risk"), root.has("risk_score")) {
        (true, false) => root.parsed("risk", RiskLevel::new).map(|level| (level, None)),
        (false, true) => {
            let score = root.table("risk_score").and_then(|table| risk_score(&table))?;
            if let Some(level) = clinic.risk_scores.level(score.value) {
                return Some((At { value: level.clone(), span: score.span }, Some(score.value)));
            }
            let scale = score.value.scale.name();
            root.report
                .error(score.span, format!("the clinic does not use the {scale} scale"))
                .label("no bands for this scale")
                .why("the clinic file says which risk level a score means")
                .help(format!(
                    "add `[risk_scores.{scale}]` to the clinic file, or name the level: \
                     `risk = \"high\"`"
                ));
            None
        }
        (true, true) => {
            root.report
                .error(root.key_span("risk_score"), "a risk level or a score, not both".to_owned())
                .label("a score")
                .beside(root.key_span("risk"), "a level")
                .help("take one of the two out");
            None
        }
        (false, false) => {
            root.report
                .error(None, "the client file lacks `risk`".to_owned())
                .why("the risk level chooses the ladder of sitting times")
                .help(
                    "add `risk = \"high\"`, or a published score: \
                     `risk_score = { scale = \"braden\", score = 14 }`",
                )
                .for_absence();
            None
        }
    }
}

fn contacts(root: &Table<'_>, tables: &[Table<'_>], clinic: &Clinic) -> Option<Vec<Contact>> {
    if tables.is_empty() {
        root.report
            .error(root.key_span("contact"), "there is no contact".to_owned())
            .label("at least one is needed")
            .why("somebody must be asked to look at the skin")
            .help("add one: `[[contact]]` with `id`, `name`, `mail` and `language`");
        return None;
    }
    let read: Vec<(At<Contact>, At<MailAddress>)> = tables.iter().filter_map(contact).collect();
    let (people, mails): (Vec<_>, Vec<_>) = read.into_iter().unzip();
    let same_id = |a: &Contact, b: &Contact| a.id == b.id;
    refuse_repeats(
        root.report,
        &people,
        same_id,
        "two contacts have the same id",
        "an id stands for one person",
    );
    let why = "an answer from it could not be told from the other's (R29)";
    refuse_repeats(
        root.report,
        &mails,
        MailAddress::is_same,
        "two contacts have the same mail address",
        why,
    );
    for mail in &mails {
        let own = [&clinic.mail.from, &clinic.mail.reply_to];
        if own.into_iter().any(|own| own.is_same(&mail.value)) {
            root.report
                .error(mail.span.clone(), "a contact has the clinic's own address".to_owned())
                .label("requests would come back to the service itself")
                .why("nobody would be asked")
                .help("write the address of the person who looks");
        }
    }
    let complete = people.len() == tables.len();
    complete.then(|| people.into_iter().map(|at| at.value).collect())
}

fn contact(table: &Table<'_>) -> Option<(At<Contact>, At<MailAddress>)> {
    let id = table.parsed("id", ContactId::new);
    let name = table.parsed("name", PersonName::new);
    let mail = table.mail("mail");
    let language = table.parsed("language", Language::new);
    let asked = asked_hours(table);
    let (id, mail) = (id?, mail?);
    let contact = Contact {
        id: id.value,
        name: name?.value,
        mail: mail.value.clone(),
        language: language?.value,
        asked: asked?,
    };
    Some((At { value: contact, span: id.span }, mail))
}

/// A begin far from today is most likely a slip in the year or the month.
fn doubt_begin(root: &Table<'_>, begins: &At<NaiveDate>, today: NaiveDate) {
    let latest = today.checked_add_days(Days::new(BEGIN_DAYS_AHEAD_MAX));
    let (what, label) = if begins.value < today {
        ("the follow-up would begin in the past", "a day that is over")
    } else if latest.is_some_and(|latest| begins.value > latest) {
        ("the follow-up would begin more than half a year from now", "far ahead")
    } else {
        return;
    };
    root.report
        .warning(begins.span.clone(), what.to_owned())
        .label(label)
        .why("nobody is asked about sittings before the day of enrolment")
        .help(format!("today is {today}; check the year and the month"));
}

/// A fitting is followed up within weeks; half a year ahead is a slip.
const BEGIN_DAYS_AHEAD_MAX: u64 = 183;

/// The outermost table of a client file.
pub(super) static CLIENT: Shape = Shape {
    name: "the client file",
    keys: &[
        Key::required(
            "ref",
            Kind::Id,
            "\"A7\"",
            "the clinic's reference for the client, not a name; mails carry it in the subject",
        ),
        Key::required("call_name", Kind::Text, "\"Sam\"", "what contacts call the client"),
        Key::optional("risk", Kind::Id, "\"high\"", "the risk level, which chooses the ladder"),
        Key::optional(
            "risk_score",
            Kind::Table(&RISK_SCORE),
            "{ scale = \"braden\", score = 14 }",
            "a published score, which the clinic file maps to a level",
        ),
        Key::required(
            "time_zone",
            Kind::Text,
            "\"Europe/London\"",
            "the zone where the client lives; all times of day are meant in it",
        ),
        Key::required(
            "sittings_at",
            Kind::Times,
            "[\"10:00\", \"15:30\"]",
            "the times of day at which sittings begin (R2)",
        ),
        Key::required(
            "quiet",
            Kind::Times,
            "[\"21:00\", \"07:00\"]",
            "the hours in which nobody is asked, from and to; `[]` where there are none (R24)",
        ),
        Key::required("plan", Kind::Id, "\"two-week\"", "the id of the plan"),
        Key::required("begins", Kind::Date, "2026-03-06", "the first local day"),
        Key::optional(
            "cover",
            Kind::Texts,
            "[\"seating\"]",
            "who gets alerts about this client, where it differs from the clinic's cover",
        ),
        Key::optional(
            "fitting",
            Kind::Table(&FITTING),
            "[fitting]",
            "how the seat was fitted, which the follow-up tests",
        ),
        Key::required(
            "contact",
            Kind::Tables(&CONTACT),
            "[[contact]]",
            "the people who are asked to look, in calling order",
        ),
    ],
};

static CONTACT: Shape = Shape {
    name: "[[contact]]",
    keys: &[
        Key::required("id", Kind::Id, "\"first\"", "the short name by which files refer to them"),
        Key::required("name", Kind::Text, "\"Robin\"", "the name they are greeted by"),
        Key::required("mail", Kind::Mail, "\"robin@home.example\"", "where requests go"),
        Key::required("language", Kind::Text, "\"en\"", "the language they are written to in"),
        ASKED,
    ],
};
