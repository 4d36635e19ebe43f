//! The folder of a new clinic: what is written where, and that nothing is written over.
//!
//! Never here: what stands in the clinic file.
//! Promises: a file that is there is never changed; the password is readable by its owner only,
//! from the moment it is written.

use std::fs::{self, DirBuilder, OpenOptions};
use std::io::{self, Write as _};
use std::os::unix::fs::{DirBuilderExt as _, OpenOptionsExt as _};
use std::path::{Path, PathBuf};

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
/// all that it names is.
///
/// # Errors
/// When there is a clinic file already, or something cannot be written.
pub fn make_folder(folder: &Path, answers: &Answers) -> Result<Vec<Made>, FolderError> {
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
    for (name, text) in [PLAN, CLIENT, SCENARIO] {
        let text = text
            .replace("Europe/London", answers.zone.as_str())
            .replace("America/Denver", answers.zone.as_str())
            .replace("\"two-week\"", "\"graded-sitting\"")
            .replace("; this one is for demonstrations only", " in the plans folder")
            .replace("plans/two-week.toml", "plans/graded-sitting.toml")
            .replace("rehearse persisting-mark", "rehearse scenarios/persisting-mark");
        made.push(make_file(&folder.join(name), &text, 0o644)?);
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
