//! Reads where the data is when it is on a database server, so that several hosts can share it.
//!
//! Never here: speaking to the server; the password.
//! Promises: the password is in no file of settings.

use std::path::PathBuf;

use super::login::{SecretSource, password};
use super::table::Table;

/// A database server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DataServer {
    /// Its address, as PostgreSQL's own programs take it, without a password.
    pub address: String,
    /// The authority that vouches for its certificate, in PEM; without it the public ones are
    /// trusted.
    pub ca_file: Option<PathBuf>,
    /// Where the password is, where one is asked for.
    pub password: Option<SecretSource>,
}

/// Reads the keys of `[store]` that name a server; `postgres` is there.
pub(super) fn data_server(table: &Table<'_>) -> Option<DataServer> {
    let address = table.text("postgres");
    let ca_file =
        if table.has("ca_file") { table.path_at("ca_file").map(Some) } else { Some(None) };
    let password = password(table);
    let address = address?;
    if address.value.to_ascii_lowercase().contains("password=")
        || address.value.split("://").nth(1).is_some_and(|rest| {
            rest.split('@').next().is_some_and(|user| rest.contains('@') && user.contains(':'))
        })
    {
        table
            .report
            .error(address.span, "a password stands in the clinic file".to_owned())
            .label("in this address")
            .why("the file is read by more people and programs than the password is for")
            .help("take it out, and name a file that holds it: `password_file = \"database-password\"`");
        return None;
    }
    Some(DataServer { address: address.value.to_owned(), ca_file: ca_file?, password: password? })
}
