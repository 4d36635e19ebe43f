//! Why mail could not be set up: settings that cannot work, whatever the server says.
//!
//! Never here: what a server answered (that is an `Outcome` or an `Outage`).
//! Promises: every message says what is wrong and what to do.

use std::path::PathBuf;

/// Why an outlet or an inbox cannot be built from its settings.
#[derive(Debug, thiserror::Error)]
pub enum PostError {
    /// The file with the certificate authority cannot be read.
    #[error(
        "cannot read the certificate authority file {path}: check the path and its permissions"
    )]
    CaUnreadable {
        /// The file named in the settings.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// The file holds no certificate, or a broken one.
    #[error(
        "{path} holds no usable certificate: it must be a PEM file with `BEGIN CERTIFICATE` blocks \
         of a certificate authority (not a server's own certificate)"
    )]
    CaUnusable {
        /// The file named in the settings.
        path: PathBuf,
    },
    /// The host is neither a name nor an IP address.
    #[error("`{host}` is not a host name: give the mail server's name as in its certificate")]
    HostName {
        /// The host named in the settings.
        host: String,
    },
    /// The TLS library refuses the settings.
    #[error("TLS cannot be set up for {host}")]
    Tls {
        /// The host named in the settings.
        host: String,
        /// Why.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// A setting outside its range.
    #[error("{setting} must be {allowed}, is {given}")]
    Range {
        /// The setting's name.
        setting: &'static str,
        /// What is allowed.
        allowed: &'static str,
        /// What was given.
        given: String,
    },
    /// The folder of a maildir cannot be made or opened.
    #[error("cannot use {path} as a maildir: the folder must exist or be creatable, and writable")]
    Maildir {
        /// The folder named in the settings.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}
