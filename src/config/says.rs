//! What people say in a scenario: single replies, and the habit of the first contact.
//!
//! Never here: reading words (that is the reply reader's), deciding what a reply leads to.
//! Promises: who speaks is known to the scenario; a reply has a reading or words, never both.

use chrono::NaiveTime;

use super::shape::{Key, Kind, Shape, nearest};
use super::table::{At, Table};
use super::value::SaidAt;
use crate::care::{
    ClinicianId, ContactId, Minutes, Reading, Site, StepChoice, Verdict, site::all_sites,
};

/// One reply of a scenario.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Says {
    /// When it comes.
    pub at: SaidAt,
    /// Whose it is.
    pub who: Speaker,
    /// What it says.
    pub what: Said,
    /// What it answers, where the scenario says so.
    pub answers: Option<Answers>,
}

/// Who speaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Speaker {
    /// A contact of the client.
    Contact(ContactId),
    /// A clinician on cover.
    Clinician(ClinicianId),
}

/// What a reply says.
#[derive(Clone, PartialEq, Eq)]
pub enum Said {
    /// A reading, with what is stated beside it.
    Verdict(Verdict),
    /// Words, to be read as the service reads a mail.
    Words(String),
}

/// Keeps the words of a person out of logs and test output.
impl std::fmt::Debug for Said {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Verdict(verdict) => f.debug_tuple("Verdict").field(verdict).finish(),
            Self::Words(words) => write!(f, "Words({} characters)", words.chars().count()),
        }
    }
}

/// What a reply answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answers {
    /// The newest first look.
    Look,
    /// The newest recheck.
    Recheck,
    /// The newest routine look.
    Routine,
    /// The newest announcement of a sitting.
    Start,
    /// The newest alert.
    Alert,
}

/// How the first contact answers each sending to them while the look is open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Habit {
    /// What is answered.
    pub reading: Reading,
    /// How long after the sending; at least a minute.
    pub after: Minutes,
}

/// Reads `[habit]`.
pub(super) fn habit(table: &Table<'_>) -> Option<Habit> {
    let reading = reading(table);
    let after = table.duration("after");
    if let Some(reading) = reading.as_ref().filter(|reading| reading.value.is_clinicians()) {
        warn_of_clinicians_reading(table, reading);
    }
    Some(Habit { reading: reading?.value, after: after?.value })
}

/// Reads one `[[says]]`.
pub(super) fn says(
    table: &Table<'_>,
    contacts: &[&ContactId],
    cover: &[&ClinicianId],
) -> Option<Says> {
    let at = table.moment("at");
    let who = speaker(table, contacts, cover);
    let answers = if table.has("answers") { answers(table).map(Some) } else { Some(None) };
    let what = said(table);
    Some(Says { at: at?.value, who: who?, what: what?, answers: answers? })
}

fn speaker(table: &Table<'_>, contacts: &[&ContactId], cover: &[&ClinicianId]) -> Option<Speaker> {
    let who = table.text("who")?;
    if let Some(contact) = contacts.iter().find(|id| id.as_str() == who.value) {
        return Some(Speaker::Contact((*contact).clone()));
    }
    if let Some(clinician) = cover.iter().find(|id| id.as_str() == who.value) {
        return Some(Speaker::Clinician((*clinician).clone()));
    }
    let known: Vec<&str> =
        contacts.iter().map(|id| id.as_str()).chain(cover.iter().map(|id| id.as_str())).collect();
    let help = match nearest(who.value, known.iter().copied()) {
        Some(meant) => format!("did you mean \"{meant}\"?"),
        None => format!("the people of this scenario are {}", super::shape::listed(&known, "and")),
    };
    table
        .report
        .error(who.span, format!("nobody here is called \"{}\"", who.value))
        .label("neither a `[[contact]]` nor on `[[cover]]`")
        .help(help);
    None
}

fn said(table: &Table<'_>) -> Option<Said> {
    match (table.has("reading"), table.has("words")) {
        (true, false) => verdict(table).map(Said::Verdict),
        (false, true) => {
            for name in STATED {
                if table.has(name) {
                    warn_of_unused(table, name, "what the words state is read from the words");
                }
            }
            table.verbatim("words").map(|words| Said::Words(words.to_owned()))
        }
        (true, true) => {
            table
                .report
                .error(
                    table.key_span("words"),
                    "a reply has a reading or words, not both".to_owned(),
                )
                .label("the words")
                .beside(table.key_span("reading"), "the reading")
                .help("take one of the two out");
            None
        }
        (false, false) => {
            table
                .report
                .error(table.span.clone(), "this reply says nothing".to_owned())
                .label("neither `reading` nor `words`")
                .help("add `reading = \"clear\"`, or `words = \"all clear\"`")
                .for_absence();
            None
        }
    }
}

fn verdict(table: &Table<'_>) -> Option<Verdict> {
    let reading = reading(table);
    let sites = if table.has("sites") { sites(table) } else { Some(Vec::new()) };
    let minutes =
        optional(table, "minutes", |name| table.count(name).map(|at| at.map(Minutes::new)));
    let look_at = optional(table, "look_at", |name| table.time(name));
    let started_at = optional(table, "started_at", |name| table.time(name));
    let step = step_choice(table);
    let reading = reading?.value;
    Some(Verdict {
        reading,
        sites: sites?,
        minutes: minutes?.map(|at| at.value),
        stated_at: stated_at(table, reading, look_at?, started_at?),
        step: step?,
    })
}

/// A reply states one time: `started` that of the start, every other reading that of the look.
fn stated_at(
    table: &Table<'_>,
    reading: Reading,
    look_at: Option<At<NaiveTime>>,
    started_at: Option<At<NaiveTime>>,
) -> Option<NaiveTime> {
    let (used, unused, name) = match reading {
        Reading::Started => (started_at, look_at, "look_at"),
        _ => (look_at, started_at, "started_at"),
    };
    if unused.is_some() {
        warn_of_unused(table, name, &format!("`{reading}` does not state it"));
    }
    used.map(|at| at.value)
}

/// `step` counts steps; `sit` names a step by its sitting time. Either is a clinician's choice.
fn step_choice(table: &Table<'_>) -> Option<Option<StepChoice>> {
    let step = optional(table, "step", |name| table.count(name))?;
    let sit = optional(table, "sit", |name| table.duration(name))?;
    if let (Some(_), Some(sit)) = (&step, &sit) {
        table
            .report
            .warning(sit.span.clone(), "`step` and `sit` both choose a step".to_owned())
            .label("not used: `step` counts")
            .help("take one of the two out");
    }
    let by_step = step.map(|step| StepChoice::Step(step.value));
    Some(by_step.or(sit.map(|sit| StepChoice::Minutes(sit.value))))
}

fn reading(table: &Table<'_>) -> Option<At<Reading>> {
    let word = table.word("reading")?;
    let reading = word.value.parse().expect("OK because the words are the names of the readings");
    Some(At { value: reading, span: word.span })
}

fn answers(table: &Table<'_>) -> Option<Answers> {
    Some(match table.word("answers")?.value {
        "look" => Answers::Look,
        "recheck" => Answers::Recheck,
        "routine" => Answers::Routine,
        "start" => Answers::Start,
        _ => Answers::Alert,
    })
}

fn sites(table: &Table<'_>) -> Option<Vec<Site>> {
    let texts = table.texts("sites")?;
    let all: Vec<String> = all_sites().iter().map(ToString::to_string).collect();
    let mut sites: Vec<Site> = Vec::new();
    let mut complete = true;
    for text in texts {
        match text.value.parse::<Site>() {
            Ok(site) if sites.contains(&site) => {
                table
                    .report
                    .warning(text.span, format!("`{site}` is named twice"))
                    .label("counted once");
            }
            Ok(site) => sites.push(site),
            Err(unknown) => {
                complete = false;
                let help = match nearest(text.value, all.iter().map(String::as_str)) {
                    Some(meant) => format!("did you mean \"{meant}\"?"),
                    None => format!("the sites are {}", super::shape::listed(&all, "and")),
                };
                table
                    .report
                    .error(text.span, unknown.to_string())
                    .label("no site has this id")
                    .help(help);
            }
        }
    }
    complete.then_some(sites)
}

fn optional<T>(
    table: &Table<'_>,
    name: &str,
    read: impl FnOnce(&str) -> Option<T>,
) -> Option<Option<T>> {
    if table.has(name) { read(name).map(Some) } else { Some(None) }
}

fn warn_of_unused(table: &Table<'_>, name: &str, why: &str) {
    table
        .report
        .warning(table.key_span(name), format!("`{name}` is not used here"))
        .label("not used")
        .why(why);
}

fn warn_of_clinicians_reading(table: &Table<'_>, reading: &At<Reading>) {
    table
        .report
        .warning(reading.span.clone(), format!("only a clinician can say `{}`", reading.value))
        .label("said by the first contact")
        .why("it will be set aside every time (R23)");
}

/// The keys that say what a reply states beside its reading.
const STATED: [&str; 6] = ["sites", "minutes", "look_at", "started_at", "step", "sit"];
/// The most minutes that a reply may state: ten years, as everywhere.
const MINUTES_MAX: u32 = 3653 * 24 * 60;
/// The highest step number that can be written; whether the plan has it is the rules' to say.
const STEP_MAX: u32 = 1_000_000;
/// The names of the readings, in the order of `care::Reading::ALL`.
const READINGS: &[&str] = &[
    "clear",
    "marked",
    "faded",
    "persisting",
    "alarming",
    "not-looked",
    "no-sitting",
    "started",
    "unclear",
    "automatic",
    "seen",
    "resume",
    "keep-stopped",
    "close",
];

/// `[[says]]`.
pub(super) static SAYS: Shape = Shape {
    name: "[[says]]",
    keys: &[
        Key::required(
            "at",
            Kind::Moment,
            "\"2026-03-06T10:21\"",
            "when the reply comes, by the client's wall clock or with an offset",
        ),
        Key::required("who", Kind::Id, "\"first\"", "who replies: a contact or a clinician"),
        Key::optional("reading", Kind::Word(READINGS), "\"clear\"", "what the reply means"),
        Key::optional(
            "words",
            Kind::MaybeText,
            "\"all clear\"",
            "the words, read as a mail would be",
        ),
        Key::optional("sites", Kind::Texts, "[\"ischium-left\"]", "the body sites it names"),
        Key::optional(
            "minutes",
            Kind::Count(0, MINUTES_MAX),
            "20",
            "the minutes until the mark was gone, or for which it has lasted",
        ),
        Key::optional("look_at", Kind::Time, "\"10:18\"", "the time of the look, as stated"),
        Key::optional("started_at", Kind::Time, "\"10:20\"", "the time of the start, as stated"),
        Key::optional("step", Kind::Count(0, STEP_MAX), "2", "the step that `resume` names"),
        Key::optional("sit", Kind::Duration, "\"30min\"", "the sitting time that `resume` names"),
        Key::optional(
            "answers",
            Kind::Word(&["look", "recheck", "routine", "start", "alert"]),
            "\"look\"",
            "what the reply answers",
        ),
    ],
};

/// `[habit]`.
pub(super) static HABIT: Shape = Shape {
    name: "[habit]",
    keys: &[
        Key::required("reading", Kind::Word(READINGS), "\"clear\"", "what is answered"),
        Key::required("after", Kind::Wait, "\"6min\"", "how long after each sending"),
    ],
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reading_can_be_written_in_a_scenario() {
        assert_eq!(Reading::ALL.map(Reading::name).as_slice(), READINGS);
    }
}
