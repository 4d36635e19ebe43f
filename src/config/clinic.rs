//! Reads the clinic file: the clinic, its clinicians and their cover, its folders, its mail
//! account.
//!
//! Never here: opening the mail account; making folders.
//! Promises: paths count from the folder of the file; everybody on cover may decide.

use std::path::{Path, PathBuf};

use super::board::{BOARD, BoardSettings, board};
use super::data_server::DataServer;
use super::data_store::{DataStore, STORE, data_store};
use super::document::Document;
use super::fit_practice::{FIT, fit_practice};
use super::keeping::{BACKUP, Backups, KEEP, Retention, backups, retention};
use super::login::SecretSource;
use super::mail::{MAIL, MailSettings, mail};
use super::person::{Language, MailAddress, PersonName, refuse_repeats};
use super::problem::{Checked, Problems, Purpose};
use super::risk_scores::{RISK_SCORES, RiskScores, risk_scores};
use super::shape::{Key, Kind, Shape, listed, nearest};
use super::table::{At, Table};
use super::watch::{WATCH, Watch, watch};
use super::zone::ZoneName;
use crate::care::ClinicianId;
use crate::care::fitting::FitPractice;

/// A clinic, checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clinic {
    /// Its name, as people know it.
    pub name: String,
    /// Its zone.
    pub time_zone: ZoneName,
    /// How to reach it, in words: phone and opening hours.
    pub phone: String,
    /// What contacts are told to do when the clinic is closed, in words.
    pub out_of_hours: String,
    /// Where the service keeps its data.
    pub data_folder: PathBuf,
    /// The database server that holds the record instead of a file in the data folder.
    pub server: Option<DataServer>,
    /// Where the key is that the file in the data folder is encrypted with; without it the file is
    /// plain.
    pub data_key: Option<SecretSource>,
    /// Where the plans are.
    pub plans_folder: PathBuf,
    /// Where the clinic's own wording is; without it the shipped wording serves.
    pub languages_folder: Option<PathBuf>,
    /// The clinic's own review guide; without it the shipped one serves.
    pub review_guide: Option<PathBuf>,
    /// Whether a client is enrolled only with a fitting.
    pub fitting_required: bool,
    /// What a fit is held to.
    pub fit: FitPractice,
    /// The staff; at least one, no repeats.
    pub clinicians: Vec<Clinician>,
    /// Who gets alerts, in calling order; at least one, each may decide.
    pub cover: Vec<ClinicianId>,
    /// Which level a score on a published scale means here.
    pub risk_scores: RiskScores,
    /// The mail account.
    pub mail: MailSettings,
    /// Who hears that the service lives, and who hears that it does not.
    pub watch: Watch,
    /// Backups on a schedule; none without a `[backup]` table.
    pub backups: Option<Backups>,
    /// How long personal data is kept.
    pub retention: Retention,
    /// The board; none without a `[board]` table.
    pub board: Option<BoardSettings>,
}

/// A member of the clinic's staff.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clinician {
    /// The short id.
    pub id: ClinicianId,
    /// The name.
    pub name: PersonName,
    /// Where alerts and notices go.
    pub mail: MailAddress,
    /// What they may do.
    pub role: Role,
    /// The language they are written to in.
    pub language: Language,
}

/// What a member of the staff may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Decides: acknowledges, resumes, keeps stopped, closes.
    Clinician,
    /// Reports findings and enrols clients.
    Assistant,
    /// Reads.
    Observer,
}

impl Role {
    /// Whether one may decide about a follow-up.
    pub fn decides(self) -> bool {
        self == Self::Clinician
    }

    /// Whether one may report findings, enrol, pause and set who is on cover.
    pub fn reports(self) -> bool {
        matches!(self, Self::Clinician | Self::Assistant)
    }

    /// The role in one word, as the clinic file has it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Clinician => "clinician",
            Self::Assistant => "assistant",
            Self::Observer => "observer",
        }
    }
}

impl Clinic {
    /// A member of the staff by id.
    pub fn clinician(&self, id: &ClinicianId) -> Option<&Clinician> {
        self.clinicians.iter().find(|clinician| clinician.id == *id)
    }
}

/// Reads a clinic file from a text; `name` is its path, from whose folder its paths count.
///
/// # Errors
/// All problems, when the text is no usable clinic file.
pub fn parse_clinic(name: &str, text: &str) -> Result<Checked<Clinic>, Problems> {
    let folder = Path::new(name).parent().unwrap_or_else(|| Path::new(""));
    let (clinic, problems) = Document::new(name, text).read(Purpose::Serve, |map, report| {
        read(&Table::root(map, &CLINIC, report).in_folder(folder))
    });
    Checked::unless_refused(clinic, problems)
}

fn read(root: &Table<'_>) -> Option<Clinic> {
    let name = root.text("name");
    let time_zone = root.zone("time_zone");
    let phone = root.text("phone");
    let out_of_hours = root.text("out_of_hours");
    let data_folder = root.path_at("data_folder");
    let store = match root.table("store") {
        Some(table) => data_store(&table),
        None if root.has("store") => None,
        None => Some(DataStore::default()),
    };
    let plans_folder = root.path_at("plans_folder");
    let languages_folder = if root.has("languages_folder") {
        root.path_at("languages_folder").map(Some)
    } else {
        Some(None)
    };
    let review_guide =
        if root.has("review_guide") { root.path_at("review_guide").map(Some) } else { Some(None) };
    let fitting_required = if root.has("fitting_required") {
        root.yes_no("fitting_required").map(|required| required.value)
    } else {
        Some(false)
    };
    let fit = match root.table("fit") {
        Some(table) => fit_practice(&table),
        None if root.has("fit") => None,
        None => Some(FitPractice::common()),
    };
    let clinicians = clinicians(root);
    let cover = clinicians.as_ref().and_then(|clinicians| cover(root, clinicians));
    let scores = match root.table("risk_scores") {
        Some(table) => risk_scores(&table),
        None if root.has("risk_scores") => None,
        None => Some(RiskScores::default()),
    };
    let mail = root.table("mail").and_then(|table| mail(&table));
    let watch = match root.table("watch") {
        Some(table) => watch(&table),
        None if root.has("watch") => None,
        None => Some(Watch::common()),
    };
    let backups = match root.table("backup") {
        Some(table) => backups(&table).map(Some),
        None if root.has("backup") => None,
        None => Some(None),
    };
    let retention = match root.table("keep") {
        Some(table) => retention(&table),
        None if root.has("keep") => None,
        None => Some(Retention::default()),
    };
    let board = match root.table("board") {
        Some(table) => board(&table).map(Some),
        None if root.has("board") => None,
        None => Some(None),
    };
    let store = store?;
    Some(Clinic {
        name: name?.value.to_owned(),
        time_zone: time_zone?.value,
        phone: phone?.value.to_owned(),
        out_of_hours: out_of_hours?.value.to_owned(),
        data_folder: data_folder?,
        server: store.server,
        data_key: store.key,
        plans_folder: plans_folder?,
        languages_folder: languages_folder?,
        review_guide: review_guide?,
        fitting_required: fitting_required?,
        fit: fit?,
        clinicians: clinicians?,
        cover: cover?,
        risk_scores: scores?,
        mail: mail?,
        watch: watch?,
        backups: backups?,
        retention: retention?,
        board: board?,
    })
}

fn clinicians(root: &Table<'_>) -> Option<Vec<Clinician>> {
    let tables = root.tables("clinician")?;
    if tables.is_empty() {
        root.report
            .error(root.key_span("clinician"), "there is no clinician".to_owned())
            .label("at least one is needed")
            .why("alerts go to clinicians, and only a clinician can end a stop (R23)")
            .help("add one: `[[clinician]]` with `id`, `name`, `mail`, `role` and `language`");
        return None;
    }
    let read: Vec<(At<Clinician>, At<MailAddress>)> = tables.iter().filter_map(clinician).collect();
    let (people, mails): (Vec<_>, Vec<_>) = read.into_iter().unzip();
    let same_id = |a: &Clinician, b: &Clinician| a.id == b.id;
    refuse_repeats(
        root.report,
        &people,
        same_id,
        "two clinicians have the same id",
        "an id stands for one person",
    );
    let why = "a reply from it could not be told from the other's";
    refuse_repeats(
        root.report,
        &mails,
        MailAddress::is_same,
        "two clinicians have the same mail address",
        why,
    );
    let complete = people.len() == tables.len();
    complete.then(|| people.into_iter().map(|at| at.value).collect())
}

fn clinician(table: &Table<'_>) -> Option<(At<Clinician>, At<MailAddress>)> {
    let id = table.parsed("id", ClinicianId::new);
    let name = table.parsed("name", PersonName::new);
    let mail = table.mail("mail");
    let role = table.word("role").map(|role| match role.value {
        "clinician" => Role::Clinician,
        "assistant" => Role::Assistant,
        _ => Role::Observer,
    });
    let language = table.parsed("language", Language::new);
    let (id, mail) = (id?, mail?);
    let clinician = Clinician {
        id: id.value,
        name: name?.value,
        mail: mail.value.clone(),
        role: role?,
        language: language?.value,
    };
    Some((At { value: clinician, span: id.span }, mail))
}

/// Reads `cover`, the calling order of people who may decide.
pub(super) fn cover(table: &Table<'_>, clinicians: &[Clinician]) -> Option<Vec<ClinicianId>> {
    let texts = table.texts("cover")?;
    if texts.is_empty() {
        table
            .report
            .error(table.value_span("cover"), "nobody is on cover".to_owned())
            .label("an empty list")
            .why("an alert would go to nobody (R21)")
            .help("name at least one clinician by id");
        return None;
    }
    let known: Vec<&str> = clinicians.iter().map(|clinician| clinician.id.as_str()).collect();
    let mut cover: Vec<At<ClinicianId>> = Vec::new();
    for text in &texts {
        let found = clinicians.iter().find(|clinician| clinician.id.as_str() == text.value);
        match found {
            Some(clinician) if clinician.role == Role::Clinician => {
                cover.push(At { value: clinician.id.clone(), span: text.span.clone() });
            }
            Some(clinician) => {
                table
                    .report
                    .error(text.span.clone(), format!("`{}` may not decide", clinician.id))
                    .label("not a clinician by role")
                    .why("an alert needs somebody who may end a stop (R23)")
                    .help("choose somebody whose `role` is \"clinician\"");
            }
            None => {
                let help = match nearest(text.value, known.iter().copied()) {
                    Some(meant) => format!("did you mean \"{meant}\"?"),
                    None => format!("the clinic has {}", listed(&known, "and")),
                };
                table
                    .report
                    .error(text.span.clone(), format!("no clinician has the id \"{}\"", text.value))
                    .label("nobody by this id")
                    .why("alerts go to the people on cover, in this order (R21)")
                    .help(help);
            }
        }
    }
    let why = "an alert would pass from them to themselves";
    refuse_repeats(table.report, &cover, PartialEq::eq, "one person twice on cover", why);
    (cover.len() == texts.len()).then(|| cover.into_iter().map(|at| at.value).collect())
}

/// The outermost table of a clinic file.
pub(super) static CLINIC: Shape = Shape {
    name: "the clinic file",
    keys: &[
        Key::required("name", Kind::Text, "\"Riverside Seating Clinic\"", "the clinic's name"),
        Key::required("time_zone", Kind::Text, "\"Europe/London\"", "the clinic's zone"),
        Key::required(
            "phone",
            Kind::Text,
            "\"01632 960 123, Monday to Friday 9:00 to 17:00\"",
            "how to reach the clinic, in words that go into mails",
        ),
        Key::required(
            "out_of_hours",
            Kind::Text,
            "\"Keep off the seat and call the emergency doctor\"",
            "what contacts are told to do when the clinic is closed (R21)",
        ),
        Key::required("data_folder", Kind::Path, "\"data\"", "where the service keeps its data"),
        Key::required("plans_folder", Kind::Path, "\"plans\"", "where the plans are"),
        Key::optional(
            "languages_folder",
            Kind::Path,
            "\"languages\"",
            "where the clinic's own wording is",
        ),
        Key::optional(
            "review_guide",
            Kind::Path,
            "\"review-guide.toml\"",
            "the clinic's own guide of what to examine after a finding",
        ),
        Key::optional(
            "fitting_required",
            Kind::YesNo,
            "true",
            "whether a client is enrolled only with a fitting",
        ),
        Key::optional("fit", Kind::Table(&FIT), "[fit]", "what a fit is held to"),
        Key::required(
            "cover",
            Kind::Texts,
            "[\"seating\"]",
            "who gets alerts, in calling order (R21, R22)",
        ),
        Key::required(
            "clinician",
            Kind::Tables(&CLINICIAN),
            "[[clinician]]",
            "the people of the clinic",
        ),
        Key::optional(
            "risk_scores",
            Kind::Table(&RISK_SCORES),
            "[risk_scores.braden]",
            "which risk level a published score means here",
        ),
        Key::required("mail", Kind::Table(&MAIL), "[mail]", "the clinic's mail account"),
        Key::optional(
            "watch",
            Kind::Table(&WATCH),
            "[watch]",
            "who hears that the service lives, and who hears that it does not",
        ),
        Key::optional(
            "store",
            Kind::Table(&STORE),
            "[store]",
            "a PostgreSQL database instead of a file, or the key of an encrypted file",
        ),
        Key::optional("backup", Kind::Table(&BACKUP), "[backup]", "copies of the data, daily"),
        Key::optional("keep", Kind::Table(&KEEP), "[keep]", "how long personal data is kept"),
        Key::optional(
            "board",
            Kind::Table(&BOARD),
            "[board]",
            "the page on which the staff see how all follow-ups stand",
        ),
    ],
};

static CLINICIAN: Shape = Shape {
    name: "[[clinician]]",
    keys: &[
        Key::required("id", Kind::Id, "\"seating\"", "the short name by which files refer to them"),
        Key::required("name", Kind::Text, "\"A. Example\"", "the name"),
        Key::required("mail", Kind::Mail, "\"seating@clinic.example\"", "where alerts go"),
        Key::required(
            "role",
            Kind::Word(&["clinician", "assistant", "observer"]),
            "\"clinician\"",
            "what they may do: a clinician decides, an assistant reports, an observer reads",
        ),
        Key::required("language", Kind::Text, "\"en\"", "the language they are written to in"),
    ],
};
