//! TOML to checked settings: the clinic file, client files, plans and scenarios.
//!
//! Never here: acting on settings; the core's rules; mail; SQL.
//! Promises: all problems of a file are told at once, each with its place, its reason and its
//! remedy; a file with an error changes nothing; no setting of a plan has a hidden default. Only
//! `file` touches the disk.

mod document;
mod file;
mod plan;
mod plan_doubts;
mod problem;
mod render;
mod says;
mod scenario;
mod shape;
mod source;
mod table;
mod timetable;
mod typography;
mod value;
mod version;
mod when;
mod zone;

pub use file::{read_plan, read_scenario};
pub use plan::parse_plan;
pub use problem::{Checked, Problem, Problems, Severity};
pub use render::Colour;
pub use says::{Answers, Habit, Said, Says, Speaker};
pub use scenario::{NamedText, Scenario, ScenarioClient, parse_scenario};
pub use source::{Position, Source};
pub use timetable::QuietHours;
pub use value::SaidAt;
pub use version::{canonical, plan_version, settings};
pub use zone::{UnknownZone, ZoneName};
