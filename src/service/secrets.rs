//! Where the proofs of logins and the key of the data come from: files, programs, the service manager;
//! tokens that lapse.
//!
//! Never here: what a secret is used for.
//! Promises: a secret is in no setting, no log, no error and no list of processes; a token is
//! fetched anew before it lapses, and a failed fetch is tried again while the old one still serves.

use std::ffi::OsString;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use tracing::{info, warn};

use super::error::ServiceError;
use crate::config::SecretSource;
use crate::post::{Secret, SecretText};
use crate::store::DataKey;

/// The folder in which systemd hands credentials over (`LoadCredential=`, systemd.exec(5)).
const CREDENTIALS: &str = "CREDENTIALS_DIRECTORY";
/// How long a token counts where its program does not say: servers commonly give an hour (common
/// practice, no source), and a token fetched too early costs nothing.
const LASTS: Duration = Duration::from_secs(40 * 60);
/// Fetched anew after three quarters of its life, so that some tries are left before it lapses.
const SPENT: (u32, u32) = (3, 4);
/// How soon a failed fetch is tried again.
const AGAIN: Duration = Duration::from_secs(30);
/// The shortest time between two fetches, whatever a program says.
const SHORTEST: Duration = Duration::from_secs(5);
/// How long a program may take to give a secret.
const PATIENCE: Duration = Duration::from_secs(30);

/// Keeps a token fresh while the service runs.
#[derive(Debug)]
pub struct TokenKeeper {
    command: Vec<String>,
    whose: &'static str,
    token: SecretText,
    lasts: Duration,
}

/// Fetches a secret; `whose` names the table of the clinic file for errors.
///
/// # Errors
/// When it cannot be had.
pub fn fetch(
    source: &SecretSource,
    whose: &'static str,
) -> Result<(Secret, Option<TokenKeeper>), ServiceError> {
    if let SecretSource::TokenCommand(command) = source {
        let (text, lasts) = token(command, whose)?;
        let token = SecretText::new(text);
        let keeper = TokenKeeper { command: command.clone(), whose, token, lasts };
        return Ok((Secret::BearerToken(keeper.token.clone()), Some(keeper)));
    }
    Ok((Secret::Password(SecretText::new(password(source, whose)?)), None))
}

/// Fetches the text of a secret once; `whose` names the table of the clinic file for errors.
///
/// # Errors
/// When it cannot be had.
pub(super) fn password(source: &SecretSource, whose: &str) -> Result<String, ServiceError> {
    secret(source, whose, "password")
}

/// Fetches the key that the data is encrypted with.
///
/// # Errors
/// When it cannot be had, or is no key.
pub(super) fn data_key(source: &SecretSource) -> Result<DataKey, ServiceError> {
    let text = secret(source, "store", "key")?;
    DataKey::parse(&text).map_err(|bad| ServiceError::Secret {
        what: format!("the key of store cannot be used: {bad}"),
    })
}

fn secret(source: &SecretSource, whose: &str, noun: &str) -> Result<String, ServiceError> {
    match source {
        SecretSource::File(path) => from_file(path, whose, &format!("the {noun} file")),
        SecretSource::Credential(name) => {
            from_credential(std::env::var_os(CREDENTIALS), name, whose)
        }
        SecretSource::Command(command) => {
            first_line(&printed_by(command, whose)?, whose, &format!("the {noun} command"))
        }
        SecretSource::TokenCommand(command) => Ok(token(command, whose)?.0),
    }
}

impl TokenKeeper {
    /// Fetches the token anew, again and again, before it lapses. Ends only when it is dropped.
    pub async fn run(mut self) {
        let mut wait = before_lapse(self.lasts);
        loop {
            tokio::time::sleep(wait).await;
            let (command, whose) = (self.command.clone(), self.whose);
            let fetched = tokio::task::spawn_blocking(move || token(&command, whose)).await;
            match fetched {
                Ok(Ok((text, lasts))) => {
                    self.token.replace(text);
                    self.lasts = lasts;
                    info!(whose, "the token for mail was renewed");
                    wait = before_lapse(lasts);
                }
                Ok(Err(failed)) => {
                    warn!(error = %failed, "the token for mail could not be renewed");
                    wait = AGAIN;
                }
                // The runtime is going down.
                Err(_) => return,
            }
        }
    }
}

fn before_lapse(lasts: Duration) -> Duration {
    (lasts * SPENT.0 / SPENT.1).max(SHORTEST)
}

/// A token, and how long it lasts.
fn token(command: &[String], whose: &str) -> Result<(String, Duration), ServiceError> {
    let printed = printed_by(command, whose)?;
    let text = first_line(&printed, whose, "the token command")?;
    let lasts = match printed.lines().nth(1).map(str::trim).filter(|line| !line.is_empty()) {
        None => LASTS,
        Some(seconds) => seconds.parse().map(Duration::from_secs).map_err(|_| {
            let what = format!(
                "the token command of {whose} prints a second line that is no number: it must be \
                 the seconds for which the token lasts, or be left out"
            );
            ServiceError::Secret { what }
        })?,
    };
    Ok((text, lasts))
}

fn from_credential(
    folder: Option<OsString>,
    name: &str,
    whose: &str,
) -> Result<String, ServiceError> {
    let folder = folder.ok_or_else(|| ServiceError::Secret {
        what: format!(
            "the credential `{name}` of {whose} was not handed over: {CREDENTIALS} is not set; add \
             `LoadCredential={name}:/path/to/it` to the service's unit"
        ),
    })?;
    from_file(&Path::new(&folder).join(name), whose, "the credential")
}

fn from_file(path: &Path, whose: &str, kind: &str) -> Result<String, ServiceError> {
    let text = std::fs::read_to_string(path).map_err(|error| ServiceError::Secret {
        what: format!(
            "{kind} of {whose} cannot be read: {}: {error}; name a file that this user may read",
            path.display()
        ),
    })?;
    first_line(&text, whose, kind)
}

/// What a program prints. Its own complaints go where ours go, and its name is told, but neither its
/// arguments nor what it printed.
fn printed_by(command: &[String], whose: &str) -> Result<String, ServiceError> {
    let refused = |why: String| ServiceError::Secret {
        what: format!("the program that gives the secret of {whose} failed: {why}"),
    };
    let (program, arguments) =
        command.split_first().ok_or_else(|| refused("it names no program".to_owned()))?;
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|error| refused(format!("{program}: {error}")))?;
    let begun = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(_)) => break,
            Ok(None) if begun.elapsed() < PATIENCE => {
                std::thread::sleep(Duration::from_millis(10));
            }
            Ok(None) => {
                let _ = child.kill();
                let _ = child.wait();
                return Err(refused(format!("{program} took longer than {PATIENCE:?}")));
            }
            Err(error) => return Err(refused(format!("{program}: {error}"))),
        }
    }
    let output =
        child.wait_with_output().map_err(|error| refused(format!("{program}: {error}")))?;
    if !output.status.success() {
        return Err(refused(format!("{program} ended with {}", output.status)));
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

fn first_line(text: &str, whose: &str, source: &str) -> Result<String, ServiceError> {
    match text.lines().next().map(str::trim_end).filter(|line| !line.is_empty()) {
        Some(line) => Ok(line.to_owned()),
        None => {
            Err(ServiceError::Secret { what: format!("{source} of {whose} gives an empty line") })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shell(script: &str) -> Vec<String> {
        ["sh", "-c", script].map(str::to_owned).to_vec()
    }

    #[test]
    fn a_token_lasts_as_long_as_its_program_says_and_is_renewed_before() {
        let (text, lasts) = token(&shell("echo abc; echo 100"), "mail.in").unwrap();
        assert_eq!((text.as_str(), lasts), ("abc", Duration::from_secs(100)));
        assert_eq!(before_lapse(lasts), Duration::from_secs(75));
        assert_eq!(token(&shell("echo abc"), "mail.in").unwrap().1, LASTS);
    }

    #[test]
    fn a_program_that_fails_is_named_without_its_arguments_or_its_words() {
        for script in ["echo canary; exit 3", "echo; echo canary", "echo token; echo canary"] {
            let told = token(&shell(script), "mail.in").unwrap_err().to_string();
            assert!(told.contains("mail.in"), "{told}");
            assert!(!told.contains("canary"), "{told}");
        }
    }

    #[test]
    fn a_credential_is_read_from_the_service_managers_folder_and_its_absence_says_what_to_do() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("mail"), "secret\n").unwrap();
        let from = |folder: Option<OsString>, name| from_credential(folder, name, "mail.out");
        assert_eq!(from(Some(folder.path().into()), "mail").unwrap(), "secret");
        let told = from(None, "mail").unwrap_err().to_string();
        assert!(told.contains("LoadCredential=mail:"), "{told}");
        assert!(from(Some(folder.path().into()), "other").is_err());
    }
}
