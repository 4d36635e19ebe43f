//! Reads `[store]`: whether the record lies on a server, or in a file that is encrypted.
//!
//! Never here: the key and the password themselves.
//! Promises: what is named is done or refused: a key is never taken by a program, or for a place, that
//! would keep the data in the clear under it.

use super::data_server::{DataServer, data_server};
use super::login::{DATA_KEYS, SecretSource, data_key};
use super::shape::{Key, Kind, Shape};
use super::table::Table;

/// What `[store]` says; without it the record lies in a plain file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct DataStore {
    pub(super) server: Option<DataServer>,
    pub(super) key: Option<SecretSource>,
}

/// Reads `[store]`.
pub(super) fn data_store(table: &Table<'_>) -> Option<DataStore> {
    let key_named = DATA_KEYS.into_iter().find(|key| table.has(key));
    let is_on_server = table.has("postgres");
    let key = data_key(table);
    match key_named {
        Some(key) if is_on_server => {
            table
                .report
                .error(table.key_span(key), "a key for a database on a server".to_owned())
                .label("encrypts a file of ours")
                .beside(table.key_span("postgres"), "the data is kept here")
                .why("a server keeps its own files, so this key would encrypt nothing")
                .help(
                    "take the key out, and have the server's disk encrypted by its administrator",
                );
            return None;
        }
        Some(key) if !cfg!(feature = "encryption") => {
            table
                .report
                .error(table.key_span(key), "this program cannot encrypt".to_owned())
                .label("it was built without encryption")
                .why("the data would be kept in the clear although a key is named")
                .help(
                    "install the Debian package, or build it with\n\
                     `cargo build --release --features encryption`",
                );
            return None;
        }
        _ => {}
    }
    if is_on_server {
        return Some(DataStore { server: Some(data_server(table)?), key: None });
    }
    let of_a_server = OF_A_SERVER.into_iter().find(|key| table.has(key));
    if of_a_server.is_some() || key_named.is_none() {
        let what = match of_a_server {
            Some(key) => format!("`{key}` without a server"),
            None => "`[store]` names neither a server nor a key".to_owned(),
        };
        table
            .report
            .error(of_a_server.map_or_else(|| table.span.clone(), |key| table.key_span(key)), what)
            .label("where is the data to be kept?")
            .help(
                "for data on a server name it: `postgres = \"host=… dbname=… user=…\"`;\n\
                 for an encrypted file name its key: `key_file = \"data-key\"`;\n\
                 for a plain file take `[store]` out",
            )
            .for_absence();
        return None;
    }
    Some(DataStore { server: None, key: key? })
}

/// Keys that mean nothing without `postgres`.
const OF_A_SERVER: [&str; 4] =
    ["ca_file", "password_file", "password_command", "password_credential"];

/// `[store]`.
pub(super) static STORE: Shape = Shape {
    name: "[store]",
    keys: &[
        Key::optional(
            "postgres",
            Kind::Text,
            "\"host=db.clinic.example dbname=fadewatch user=fadewatch\"",
            "the PostgreSQL database that holds the data instead of a file",
        ),
        Key::optional(
            "ca_file",
            Kind::Path,
            "\"ca.pem\"",
            "the authority that vouches for the server's certificate, where it is your own",
        ),
        Key::optional(
            "password_file",
            Kind::Path,
            "\"database-password\"",
            "a file whose first line is the password",
        ),
        Key::optional(
            "password_command",
            Kind::Texts,
            "[\"/usr/local/bin/secret\", \"database\"]",
            "a program that prints the password, with its arguments",
        ),
        Key::optional(
            "password_credential",
            Kind::Text,
            "\"database-password\"",
            "a credential of the service manager (`LoadCredential=`) that holds the password",
        ),
        Key::optional(
            "key_file",
            Kind::Path,
            "\"data-key\"",
            "a file whose first line is the key that encrypts the data (64 hexadecimal digits)",
        ),
        Key::optional(
            "key_command",
            Kind::Texts,
            "[\"/usr/local/bin/secret\", \"data-key\"]",
            "a program that prints the key, with its arguments",
        ),
        Key::optional(
            "key_credential",
            Kind::Text,
            "\"data-key\"",
            "a credential of the service manager (`LoadCredential=`) that holds the key",
        ),
    ],
};
