//! What a clinic answers when it is set up.
//!
//! Never here: asking; writing files.
//! Promises: every answer has been checked by the rules of the file that it goes into.

use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

use crate::care::ClinicianId;
use crate::config::{Language, MailAddress, PersonName, Security, ZoneName};

/// All answers.
#[derive(Clone, Debug)]
pub struct Answers {
    /// The clinic's name.
    pub name: String,
    /// Its zone.
    pub zone: ZoneName,
    /// How to reach it, in words.
    pub phone: String,
    /// What contacts are told to do when it is closed.
    pub out_of_hours: String,
    /// The clinicians, in calling order; at least one.
    pub clinicians: Vec<Member>,
    /// The address of the service's own mail account.
    pub account: MailAddress,
    /// The server that takes mail.
    pub out: ServerAnswer,
    /// The server where mail arrives.
    pub incoming: ServerAnswer,
    /// The clinic's own certificate authority, where it has one.
    pub ca_file: Option<PathBuf>,
    /// The user of the account.
    pub user: String,
    /// Its password; none where it is put into its file later.
    pub password: Option<Password>,
}

/// A clinician.
#[derive(Clone, Debug)]
pub struct Member {
    /// The short id, which appears in journal and logs.
    pub id: ClinicianId,
    /// The name.
    pub name: PersonName,
    /// Where alerts go.
    pub mail: MailAddress,
    /// The language they are written to in.
    pub language: Language,
}

/// A password. Its `Debug` leaves it out.
#[derive(Clone)]
pub struct Password(String);

impl Password {
    /// Takes a password in; none where nothing was said.
    pub fn new(text: &str) -> Option<Self> {
        (!text.is_empty()).then(|| Self(text.to_owned()))
    }

    /// The password, to be written into its file.
    pub(super) fn reveal(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Password {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Password(…)")
    }
}

/// A mail server as a person writes it: `mail.clinic.example`, `mail.clinic.example:465`,
/// `mail.clinic.example:2525 tls`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ServerAnswer {
    /// Its name.
    pub host: String,
    /// Its port, where one was named.
    pub port: Option<u16>,
    /// How the connection is protected, where it was said.
    pub security: Option<Security>,
}

impl ServerAnswer {
    /// How the connection is protected: as it was said, else as the port has it by custom.
    pub fn security_or(&self, usual: Security) -> Security {
        self.security.unwrap_or(match self.port {
            // RFC 8314: TLS from the first byte on these two.
            Some(465 | 993) => Security::Tls,
            // RFC 6409 and RFC 3501: plain at first.
            Some(587 | 143 | 25) => Security::Starttls,
            _ => usual,
        })
    }
}

impl FromStr for ServerAnswer {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mut words = text.split_whitespace();
        let place = words.next().ok_or("a server has a name")?;
        let security = match words.next() {
            None => None,
            Some("tls") => Some(Security::Tls),
            Some("starttls") => Some(Security::Starttls),
            Some(other) => {
                return Err(format!(
                    "`{other}` is not known after a server: write tls or starttls"
                ));
            }
        };
        if words.next().is_some() {
            return Err("write it like `mail.clinic.example:587 starttls`".to_owned());
        }
        let (host, port) = match place.rsplit_once(':') {
            None => (place, None),
            Some((host, port)) => {
                let port: u16 = port.parse().ok().filter(|port| *port > 0).ok_or_else(|| {
                    format!("`{port}` is no port: a port is a number from 1 to 65535")
                })?;
                (host, Some(port))
            }
        };
        let fits = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-');
        if host.is_empty() || !host.chars().all(fits) {
            return Err(format!("`{host}` is no server name: write it like mail.clinic.example"));
        }
        Ok(Self { host: host.to_owned(), port, security })
    }
}

impl fmt::Display for ServerAnswer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.host)?;
        if let Some(port) = self.port {
            write!(f, ":{port}")?;
        }
        match self.security {
            None => Ok(()),
            Some(Security::Tls) => f.write_str(" tls"),
            Some(Security::Starttls) => f.write_str(" starttls"),
            Some(Security::PlainLoopback) => f.write_str(" plain"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn security(text: &str) -> Security {
        text.parse::<ServerAnswer>().unwrap().security_or(Security::Starttls)
    }

    #[test]
    fn a_server_is_protected_as_it_was_said_or_as_its_port_has_it() {
        assert_eq!(security("mail.clinic.example"), Security::Starttls);
        assert_eq!(security("mail.clinic.example:465"), Security::Tls);
        assert_eq!(security("mail.clinic.example:2525"), Security::Starttls);
        assert_eq!(security("mail.clinic.example:2525 tls"), Security::Tls);
    }

    #[test]
    fn what_is_no_server_is_answered_with_what_would_be() {
        for wrong in ["", "mail clinic", "mail:0", "mail:x", ":25", "mail.example ssl", "a b c"] {
            assert!(wrong.parse::<ServerAnswer>().is_err(), "{wrong}");
        }
    }
}
