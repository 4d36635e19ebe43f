//! Takes settings files from disk: the one place of this room that touches it.
//!
//! Never here: what the settings mean.
//! Promises: a file that is too large, or no plain text, is refused with what it seems to be.

use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::NaiveDate;

use super::client::{ClientFile, parse_client};
use super::clinic::{Clinic, parse_clinic};
use super::fitting::{FittingFile, parse_fitting};
use super::plan::parse_plan;
use super::problem::{Checked, Problems, Purpose, Report};
use super::review_guide::parse_review_guide;
use super::scenario::{NamedText, Scenario, parse_scenario};
use super::shape::{listed, nearest};
use super::source::Source;
use crate::care::Plan;
use crate::review::Guide;

/// The largest settings file, in bytes. A plan takes a few kB, a scenario of a year some hundred.
const FILE_BYTES_MAX: u64 = 4 * 1024 * 1024;

/// Reads a plan for real clients.
///
/// # Errors
/// All problems, when the file cannot be read or is no usable plan.
pub fn read_plan(path: &Path) -> Result<Checked<Plan>, Problems> {
    let (name, text) = opened(path)?;
    parse_plan(&name, &text)
}

/// Reads a scenario, with the plan file that it names.
///
/// # Errors
/// All problems of the scenario and its plan, when either cannot be read or used.
pub fn read_scenario(path: &Path) -> Result<Checked<Scenario>, Problems> {
    let (name, text) = opened(path)?;
    parse_scenario(&name, &text, |plan| named_text(&beside(path, plan)))
}

/// Reads a clinic file.
///
/// # Errors
/// All problems, when the file cannot be read or is no usable clinic file.
pub fn read_clinic(path: &Path) -> Result<Checked<Clinic>, Problems> {
    let (name, text) = opened(path)?;
    parse_clinic(&name, &text)
}

/// Reads a client file, with the plan that it names out of the clinic's folder of plans. `today` is
/// the day in the clinic's zone.
///
/// # Errors
/// All problems of the client and of the plan, when the client cannot be enrolled.
pub fn read_client(
    path: &Path,
    clinic: &Clinic,
    today: NaiveDate,
) -> Result<Checked<ClientFile>, Problems> {
    let (name, text) = opened(path)?;
    parse_client(&name, &text, clinic, today, |id| plan_by_id(&clinic.plans_folder, id))
}

/// As `read_client`, from a text that is in no file; `name` is what people know it by.
///
/// # Errors
/// As `read_client`.
pub fn client_from_text(
    name: &str,
    text: &str,
    clinic: &Clinic,
    today: NaiveDate,
) -> Result<Checked<ClientFile>, Problems> {
    parse_client(name, text, clinic, today, |id| plan_by_id(&clinic.plans_folder, id))
}

/// The ids of the plans in a clinic's folder of plans, in order.
pub fn plan_ids(folder: &Path) -> Vec<String> {
    let mut ids = plans_in(folder);
    ids.sort();
    ids
}

/// Reads the fitting out of a client file, or out of a file that has only `[fitting]`. `today` is
/// the day in the clinic's zone.
///
/// # Errors
/// All problems, when there is no usable fitting.
pub fn read_fitting(
    path: &Path,
    clinic: Option<&Clinic>,
    today: NaiveDate,
) -> Result<Checked<FittingFile>, Problems> {
    let (name, text) = opened(path)?;
    parse_fitting(&name, &text, clinic, today)
}

/// Reads a review guide.
///
/// # Errors
/// All problems, when the file cannot be read or is no usable guide.
pub fn read_review_guide(path: &Path) -> Result<Checked<Guide>, Problems> {
    let (name, text) = opened(path)?;
    parse_review_guide(&name, &text)
}

/// Finds a plan's file by the plan's id.
fn plan_by_id(folder: &Path, id: &str) -> Result<NamedText, String> {
    let path = folder.join(format!("{id}.toml"));
    if id.contains(['/', '\\']) {
        return Err("an id has no slashes in it".to_owned());
    }
    if path.exists() {
        return named_text(&path);
    }
    let known = plan_ids(folder);
    Err(match nearest(id, known.iter().map(String::as_str)) {
        Some(meant) => format!("did you mean \"{meant}\"?"),
        None if known.is_empty() => format!("there are no plans in {}", folder.display()),
        None => format!("the plans are {}", listed(&known, "and")),
    })
}

fn plans_in(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let names =
        entries.filter_map(Result::ok).filter_map(|entry| entry.file_name().into_string().ok());
    names.filter_map(|name| name.strip_suffix(".toml").map(str::to_owned)).collect()
}

/// A path as a settings file means it: from the folder of that file.
pub(super) fn beside(file: &Path, path: &str) -> PathBuf {
    file.parent().unwrap_or_else(|| Path::new("")).join(path)
}

fn opened(path: &Path) -> Result<NamedText, Problems> {
    named_text(path).map_err(|reason| {
        let source = Arc::new(Source::new(&path.display().to_string(), ""));
        let report = Report::new(&source, Purpose::Serve);
        report.error(None, format!("this file cannot be read: {reason}"));
        report.into_problems()
    })
}

/// The text of a file under its path, or why there is none.
fn named_text(path: &Path) -> Result<NamedText, String> {
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(FILE_BYTES_MAX + 1).read_to_end(&mut bytes))
        .map_err(|error| error.to_string())?;
    if bytes.len() as u64 > FILE_BYTES_MAX {
        let limit = FILE_BYTES_MAX / 1024 / 1024;
        return Err(format!("larger than {limit} MiB, which no settings file is"));
    }
    let text = String::from_utf8(bytes).map_err(|error| what_it_seems(error.as_bytes()))?;
    Ok((path.display().to_string(), text))
}

fn what_it_seems(bytes: &[u8]) -> String {
    let what = if bytes.starts_with(b"PK\x03\x04") {
        "a word processor's document, not plain text"
    } else if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        "text in UTF-16, not UTF-8"
    } else {
        "not text in UTF-8"
    };
    let valid = std::str::from_utf8(bytes).map_or_else(|error| error.valid_up_to(), str::len);
    let line = bytes[..valid].iter().filter(|b| **b == b'\n').count() + 1;
    format!("it is {what} (line {line}); save it as plain text in UTF-8")
}
