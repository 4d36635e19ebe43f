//! How to log in at a mail server: the user, and the one place where the secret is.
//!
//! Never here: secrets themselves; fetching them.
//! Promises: a login has exactly one place to find its secret, and no file of settings holds one.

use std::path::PathBuf;

use super::shape::{Key, Kind};
use super::table::Table;

/// A login at a mail server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Login {
    /// The user.
    pub user: String,
    /// Where the secret is that proves it.
    pub secret: SecretSource,
}

/// Where the proof of a login is found. The secret itself never stands in a file of settings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SecretSource {
    /// A password: the first line of a file.
    File(PathBuf),
    /// A password: the first line that a program prints; the program and its arguments, at least
    /// one.
    Command(Vec<String>),
    /// A password: the first line of a credential of this name that the service manager hands over
    /// (systemd's `LoadCredential=`).
    Credential(String),
    /// An OAuth 2 access token: the first line that a program prints. A second line, where there is
    /// one, says for how many seconds the token lasts.
    TokenCommand(Vec<String>),
}

/// A login with its secret's place; none where no user is named.
pub(super) fn login(table: &Table<'_>) -> Option<Option<Login>> {
    let named: Vec<&str> = SECRET_KEYS.into_iter().filter(|key| table.has(key)).collect();
    if !table.has("user") {
        if let Some(key) = named.first() {
            table
                .report
                .error(table.key_span(key), "a password without a `user`".to_owned())
                .label("whose password?")
                .help("add `user = \"…\"`, or take the password out");
            return None;
        }
        return Some(None);
    }
    let user = table.text("user");
    let secret = match named[..] {
        [key] => secret_at(table, key),
        [] => {
            table
                .report
                .error(table.key_span("user"), "a `user` without a password".to_owned())
                .label("where is the password?")
                .help("name a file that holds it: `password_file = \"mail-password\"`")
                .for_absence();
            None
        }
        [first, second, ..] => two_places(table, "password", first, second),
    };
    Some(Some(Login { user: user?.value.to_owned(), secret: secret? }))
}

/// The place of a secret that a key names.
fn secret_at(table: &Table<'_>, key: &str) -> Option<SecretSource> {
    match key {
        "password_file" | "key_file" => table.path_at(key).map(SecretSource::File),
        "password_credential" | "key_credential" => {
            credential_name(table, key).map(SecretSource::Credential)
        }
        "password_command" | "key_command" => command_line(table, key).map(SecretSource::Command),
        _ => command_line(table, key).map(SecretSource::TokenCommand),
    }
}

fn two_places(table: &Table<'_>, what: &str, first: &str, second: &str) -> Option<SecretSource> {
    table
        .report
        .error(table.key_span(second), format!("two places for one {what}"))
        .label("one")
        .beside(table.key_span(first), "the other")
        .help("take one of the two out");
    None
}

/// The place of a password of something that needs none by itself: none, or exactly one.
pub(super) fn password(table: &Table<'_>) -> Option<Option<SecretSource>> {
    one_of(table, "password", PASSWORD_KEYS)
}

/// The place of the key that encrypts the data: none, or exactly one.
pub(super) fn data_key(table: &Table<'_>) -> Option<Option<SecretSource>> {
    one_of(table, "key", DATA_KEYS)
}

fn one_of(table: &Table<'_>, what: &str, keys: [&str; 3]) -> Option<Option<SecretSource>> {
    let named: Vec<&str> = keys.into_iter().filter(|key| table.has(key)).collect();
    match named[..] {
        [] => Some(None),
        [key] => secret_at(table, key).map(Some),
        [first, second, ..] => two_places(table, what, first, second).map(Some),
    }
}

/// The name of a credential: it becomes the name of a file in a folder of the service manager's, so
/// it must not lead out of there.
fn credential_name(table: &Table<'_>, key: &str) -> Option<String> {
    let name = table.text(key)?;
    let is_plain = name.value.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c));
    if !is_plain || name.value.starts_with('.') {
        table
            .report
            .error(name.span, format!("`{key}` must be a plain name"))
            .label("letters, digits, `-`, `_` and `.`")
            .help("write the name that stands before the colon in `LoadCredential=`");
        return None;
    }
    Some(name.value.to_owned())
}

/// A program with its arguments.
pub(super) fn command_line(table: &Table<'_>, key: &str) -> Option<Vec<String>> {
    let words = table.texts(key)?;
    if words.is_empty() {
        table
            .report
            .error(table.value_span(key), "a command without a program".to_owned())
            .label("an empty list")
            .help("name the program and its arguments: [\"/usr/local/bin/secret\", \"mail\"]");
        return None;
    }
    Some(words.into_iter().map(|word| word.value.to_owned()).collect())
}

pub(super) const USER: Key =
    Key::optional("user", Kind::Text, "\"checks@clinic.example\"", "the user of the mail account");
pub(super) const PASSWORD_FILE: Key = Key::optional(
    "password_file",
    Kind::Path,
    "\"mail-password\"",
    "a file whose first line is the password",
);
pub(super) const PASSWORD_COMMAND: Key = Key::optional(
    "password_command",
    Kind::Texts,
    "[\"/usr/local/bin/secret\", \"mail\"]",
    "a program that prints the password, with its arguments",
);

pub(super) const PASSWORD_CREDENTIAL: Key = Key::optional(
    "password_credential",
    Kind::Text,
    "\"mail-password\"",
    "a credential of the service manager (`LoadCredential=`) that holds the password",
);
pub(super) const TOKEN_COMMAND: Key = Key::optional(
    "token_command",
    Kind::Texts,
    "[\"/usr/local/bin/mail-token\"]",
    "a program that prints an OAuth 2 access token, with its arguments",
);

/// The keys of which one says where a password is.
const PASSWORD_KEYS: [&str; 3] = ["password_file", "password_credential", "password_command"];

/// The keys of which one says where the key of the data is.
pub(super) const DATA_KEYS: [&str; 3] = ["key_file", "key_credential", "key_command"];

/// The keys of which one says where the secret is.
pub(super) const SECRET_KEYS: [&str; 4] =
    ["password_file", "password_credential", "password_command", "token_command"];
