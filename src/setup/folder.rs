//! The folder of a new clinic: what is written where, and that nothing is written over.
//!
//! Never here: what stands in the clinic file.
//! Promises: a file that is there is never changed; the password is readable by its owner only,
//! from the moment it is written.

use std::fs::{self, DirBuilder, OpenOptions};
use std::io::{self, Write as _};
use std::os::unix::fs::{DirBuilderExt as _, OpenOptionsExt as _};
use std::path::{Path, PathBuf};

use chrono::{Days, NaiveDate};

use super::answers::Answers;
use super::clinic_text::clinic_text;

/// The clinic file's name.
pub const CLINIC_FILE: &str = "clinic.toml";
/// The name of the file that holds the mail account's password.
pub const PASSWORD_FILE: &str = "mail-password";

/// An example to begin from, which is refused until somebody of the clinic has approved it.
const PLAN: (&str, &str) =
    ("plans/graded-sitting.toml", include_str!("../../config/plans/graded-sitting.toml"));
const CLIENT: (&str, &str) =
    ("client-example.toml", include_str!("../../config/client-example.toml"));
/// A course to rehearse the plan on, before anyone sits on it.
const SCENARIO: (&str, &str) =
    ("scenarios/persisting-mark.toml", include_str!("../../config/scenarios/persisting-mark.toml"));

/// What became of one part of the folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Made {
    /// It is new.
    New(PathBuf),
    /// It was there already, and stays as it was.
    Kept(PathBuf),
}

/// Why the folder could not be made.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The clinic file is there already.
    #[error("{} is there already; nothing was written", .0.display())]
    InTheWay(PathBuf),
    /// Something cannot be written.
    #[error("{} cannot be written: {source}", .path.display())]
    Write {
        /// What.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

/// The clinic file that stands in the way of a new one.
pub fn in_the_way(folder: &Path) -> Option<PathBuf> {
    let path = folder.join(CLINIC_FILE);
    path.symlink_metadata().is_ok().then_some(path)
}

/// Makes the folder of a new clinic. The clinic file is written last, so that it is there only when
/// all that it names is. The example client was fitted `today` and begins a week later.
///
/// # Errors
/// When there is a clinic file already, or something cannot be written.
pub fn make_folder(
    folder: &Path,
    answers: &Answers,
    today: NaiveDate,
) -> Result<Vec<Made>, FolderError> {
    if let Some(path) = in_the_way(folder) {
        return Err(FolderError::InTheWay(path));
    }
    let mut made = vec![
        make_dir(folder, 0o755)?,
        make_dir(&folder.join("data"), 0o700)?,
        make_dir(&folder.join("plans"), 0o755)?,
        make_dir(&folder.join("scenarios"), 0o755)?,
    ];
    // Only what is inside is worth telling.
    made.remove(0);
    let begins = today.checked_add_days(Days::new(7)).unwrap_or(today);
    let dated = CLIENT
        .1
        .replace("begins = 2026-03-06", &format!("begins = {begins}"))
        .replace("date = 2026-02-27", &format!("date = {today}"));
    for (name, text) in [PLAN, (CLIENT.0, dated.as_str()), SCENARIO] {
        let text = text
            .replace("Europe/London", answers.zone.as_str())
            .replace("America/Denver", answers.zone.as_str())
            .replace("\"two-week\"", "\"graded-sitting\"")
            .replace("; this one is for demonstrations only", " in the plans folder")
            .replace("plans/two-week.toml", "plans/graded-sitting.toml")
            .replace("rehearse persisting-mark", "rehearse scenarios/persisting-mark");
        made.push(make_file(&folder.join(name), &aligned(&text), 0o644)?);
    }
    let password = answers.password.as_ref().map(|password| format!("{}\n", password.reveal()));
    let password = password.unwrap_or_default();
    made.push(make_file(&folder.join(PASSWORD_FILE), &password, 0o600)?);
    let clinic = folder.join(CLINIC_FILE);
    match make_file(&clinic, &clinic_text(answers), 0o644)? {
        Made::New(path) => made.push(Made::New(path)),
        Made::Kept(path) => return Err(FolderError::InTheWay(path)),
    }
    Ok(made)
}

/// With the comments after values one below the other again, paragraph by paragraph, wherever a
/// value is longer than the one that it replaced.
fn aligned(text: &str) -> String {
    let mut paragraphs = Vec::new();
    for paragraph in text.split("\n\n") {
        let lines: Vec<(&str, Option<&str>)> = paragraph.split('\n').map(commented).collect();
        let widths = lines.iter().filter(|(_, comment)| comment.is_some());
        let widest = widths.map(|(value, _)| value.chars().count()).max().unwrap_or(0);
        let column = widest.max(COMMENTS_FROM - 1) + 1;
        let lines = lines.into_iter().map(|(value, comment)| match comment {
            Some(comment) => format!("{value:column$}{comment}"),
            None => value.to_owned(),
        });
        paragraphs.push(lines.collect::<Vec<_>>().join("\n"));
    }
    paragraphs.join("\n\n")
}

/// The column that comments begin at, where all values leave room for it.
const COMMENTS_FROM: usize = 32;

/// A line's value and the comment after it, if it has both.
fn commented(line: &str) -> (&str, Option<&str>) {
    let mut is_quoted = false;
    let hash = line.char_indices().find_map(|(at, letter)| {
        is_quoted ^= letter == '"';
        (letter == '#' && !is_quoted).then_some(at)
    });
    let parts = hash.map(|at| line.split_at(at));
    match parts.map(|(value, comment)| (value.trim_end(), comment)) {
        Some((value, comment)) if !value.is_empty() => (value, Some(comment)),
        _ => (line, None),
    }
}

fn make_dir(path: &Path, mode: u32) -> Result<Made, FolderError> {
    if path.is_dir() {
        return Ok(Made::Kept(path.to_owned()));
    }
    DirBuilder::new()
        .recursive(true)
        .mode(mode)
        .create(path)
        .map(|()| Made::New(path.to_owned()))
        .map_err(|source| FolderError::Write { path: path.to_owned(), source })
}

fn make_file(path: &Path, text: &str, mode: u32) -> Result<Made, FolderError> {
    let refused = |source| FolderError::Write { path: path.to_owned(), source };
    let mut file = match OpenOptions::new().write(true).create_new(true).mode(mode).open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            return Ok(Made::Kept(path.to_owned()));
        }
        Err(error) => return Err(refused(error)),
    };
    let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
    if let Err(error) = written {
        // A file cut short would be kept at the next try as if it were whole.
        let _ = fs::remove_file(path);
        return Err(refused(error));
    }
    Ok(Made::New(path.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_stand_one_below_the_other_whatever_the_length_of_the_values() {
        assert_eq!(aligned(CLIENT.1), CLIENT.1, "the shipped file is aligned as it is");
        let zone = "America/Argentina/ComodRivadavia";
        let written = aligned(&CLIENT.1.replace("Europe/London", zone));
        let paragraph = written.split("\n\n").find(|text| text.contains(zone)).unwrap();
        let comments: Vec<usize> = paragraph.lines().map(|line| line.find('#').unwrap()).collect();
        assert!(comments.len() == 3 && comments.iter().all(|at| *at == comments[0]), "{paragraph}");
        assert_eq!(aligned(&written), written);
    }

    #[test]
    fn a_hash_in_a_value_is_no_comment() {
        assert_eq!(
            commented("name = \"No. #4\"   # a room"),
            ("name = \"No. #4\"", Some("# a room"))
        );
        assert_eq!(commented("# cover = [] # who"), ("# cover = [] # who", None));
    }
}
