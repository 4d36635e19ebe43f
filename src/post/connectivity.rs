//! Whether mail moves at present, for the service to tell and to log.
//!
//! Never here: clocks (whoever watches stamps the time), server texts in log lines.
//! Promises: `Up` is said only after the server has answered; `Trouble` names hold no personal
//! data, so they may be logged, while the words beside them may not.

use std::fmt;

/// Whether mail moves in one direction.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Connectivity {
    /// Not tried yet since the start.
    #[default]
    Unknown,
    /// The last exchange with the server went well.
    Up,
    /// It did not.
    Down(Outage),
}

impl Connectivity {
    /// Whether mail is known not to move.
    pub fn is_down(&self) -> bool {
        matches!(self, Self::Down(_))
    }
}

/// What is wrong while mail does not move. Its `Debug` leaves the words out.
#[derive(Clone, PartialEq, Eq)]
pub struct Outage {
    /// How often in a row it was tried in vain.
    pub failures: u32,
    /// Which step fails; may be logged.
    pub trouble: Trouble,
    /// The words of the failing party, for the clinic's own eyes; not for logs.
    pub why: String,
}

impl fmt::Debug for Outage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Outage")
            .field("failures", &self.failures)
            .field("trouble", &self.trouble)
            .finish_non_exhaustive()
    }
}

/// Which step fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// The host's name cannot be looked up.
    NameLookup,
    /// A plain connection was asked for, to a host that is not this machine.
    NotLoopback,
    /// Nobody answers.
    Connect,
    /// The certificate or the TLS handshake is refused.
    Tls,
    /// The server refuses user name and secret.
    Login,
    /// The mail folder cannot be opened.
    Folder,
    /// The connection broke, or an answer did not come in time.
    Lost,
    /// The server answers what it must not.
    Protocol,
    /// The receiver of incoming mails did not confirm one; nothing is wrong with the server.
    NotTaken,
    /// The maildir cannot be read or written.
    Disk,
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NameLookup => "name lookup failed",
            Self::NotLoopback => "plain connection to another machine refused",
            Self::Connect => "no answer",
            Self::Tls => "TLS refused",
            Self::Login => "login refused",
            Self::Folder => "folder cannot be opened",
            Self::Lost => "connection lost",
            Self::Protocol => "unexpected answer",
            Self::NotTaken => "mail not confirmed as stored",
            Self::Disk => "maildir unusable",
        })
    }
}
