//! Finding a plan by what a person calls it: a file, an id, the beginning of a version.
//!
//! Never here: judging it.
//! Promises: a file comes first, then the clinic's folder of plans, then the versions in use.

use std::path::Path;

use super::setting::{CommandError, ConfigOption, show_warnings};
use super::who::nearest;
use crate::care::Plan;
use crate::config::{Clinic, read_plan};
use crate::service::data;
use crate::store::{Mode, StoreError};

/// Fewer letters of a version could mean several.
const VERSION_CHARS_MIN: usize = 6;

/// The plan that a person means.
pub(super) fn named(config: &ConfigOption, text: &str) -> Result<Plan, CommandError> {
    if Path::new(text).is_file() {
        return from_file(Path::new(text));
    }
    let clinic = config.clinic()?;
    let file = clinic.plans_folder.join(format!("{text}.toml"));
    if !text.contains('/') && file.is_file() {
        return from_file(&file);
    }
    let is_version = text.len() >= VERSION_CHARS_MIN && text.chars().all(|c| c.is_ascii_hexdigit());
    if is_version && let Some(plan) = in_use(&clinic, &text.to_lowercase())? {
        return Ok(plan);
    }
    let known = ids_in(&clinic.plans_folder);
    let hint = match nearest(text, &known) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => format!("the plans in {} are {}", clinic.plans_folder.display(), known.join(", ")),
    };
    Err(CommandError::NotFound(format!(
        "`{text}` is neither a file, nor a plan of the clinic, nor a version in use\nhint: {hint}"
    )))
}

fn from_file(file: &Path) -> Result<Plan, CommandError> {
    let checked = read_plan(file)?;
    show_warnings(&checked.warnings);
    Ok(checked.value)
}

fn in_use(clinic: &Clinic, beginning: &str) -> Result<Option<Plan>, CommandError> {
    let store = data::open(clinic, Mode::Reading)?;
    let found = store.read_blocking(|view| -> Result<_, StoreError> {
        let versions = view.plan_versions()?;
        let version = versions.iter().find(|version| version.as_str().starts_with(beginning));
        version.map(|version| view.plan(version)).transpose()
    })?;
    Ok(found)
}

fn ids_in(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let names = entries.filter_map(Result::ok).filter_map(|e| e.file_name().into_string().ok());
    let mut ids: Vec<String> =
        names.filter_map(|name| name.strip_suffix(".toml").map(str::to_owned)).collect();
    ids.sort();
    ids
}
