//! TOML to checked settings: the clinic file, client files, plans and scenarios.
//!
//! Never here: acting on settings; the core's rules; mail; SQL.
//! Promises: all problems of a file are told at once, each with its place, its reason and its
//! remedy; a file with an error changes nothing; no setting of a plan has a hidden default. Only
//! `file` touches the disk.

mod asked;
mod board;
mod client;
mod clinic;
mod data_server;
mod data_store;
mod document;
mod file;
mod fit_practice;
mod fitting;
mod fitting_keys;
mod fitting_version;
mod keeping;
mod login;
mod mail;
mod person;
mod plan;
mod plan_doubts;
mod plan_keys;
mod problem;
mod render;
mod review_guide;
mod risk_scores;
mod says;
mod scenario;
mod schema;
mod schema_of_texts;
mod shape;
mod source;
mod table;
mod timetable;
mod typography;
mod value;
mod version;
mod watch;
mod when;
mod zone;

pub use asked::{gaps_in_words, hours_in_words, typed_hours};
pub use board::{BoardAddress, BoardSettings, TlsFiles};
pub use client::{ClientFile, Contact, parse_client};
pub use clinic::{Clinic, Clinician, Role, parse_clinic};
pub use data_server::DataServer;
pub use file::{
    client_from_text, plan_ids, read_client, read_clinic, read_fitting, read_plan,
    read_review_guide, read_scenario,
};
pub use fitting::{FittingFile, parse_fitting};
pub use fitting_version::{fitting_canonical, fitting_version};
pub use keeping::{Backups, Retention};
pub use login::{Login, SecretSource};
pub use mail::{MailIn, MailOut, MailSettings, Security, Server};
pub use person::{Language, MailAddress, PersonError, PersonName};
pub use plan::parse_plan;
pub use problem::{Checked, Problem, Problems, Severity};
pub use render::Colour;
pub use review_guide::{parse_review_guide, shipped_review_guide};
pub use risk_scores::{RiskScore, RiskScores};
pub use says::{Answers, Habit, Said, Says, Speaker};
pub use scenario::{NamedText, Scenario, ScenarioClient, parse_scenario};
pub use schema::SettingsFile;
pub use schema_of_texts::schema_of_texts;
pub use source::{Position, Source};
pub use timetable::QuietHours;
pub use value::SaidAt;
pub use version::{canonical, plan_version, settings};
pub use watch::Watch;
pub use zone::{UnknownZone, ZoneName};
