//! A mailbox on a mail server: stays connected, takes what comes, comes back after trouble.
//!
//! Never here: commands and answers of the protocol.
//! Promises: no trouble ends it; each is told once it happens, and again when it is over.

use std::panic::AssertUnwindSafe;
use std::time::Duration;

use chrono::{DateTime, Utc};
use futures_util::FutureExt;
use tokio::sync::{mpsc, watch};

use super::super::connectivity::{Connectivity, Outage, Trouble};
use super::super::credentials::Credentials;
use super::super::error::PostError;
use super::super::wire::{Fault, Security, Shield, Trust};
use super::link::Link;
use super::patience::pause;
use super::taking::{Stopped, Taking};
use super::{Arrival, Checkpoint};

/// Longest IDLE before it is renewed: servers may close it after 30 minutes (RFC 2177).
const IDLE_MAX: Duration = Duration::from_secs(29 * 60);

/// After mail came, how long to wait before asking for more. Servers gather news before they tell of it,
/// usually for half a second; while mail comes thick and fast, that is most of what a reply waits for.
const ASK_AGAIN_AFTER: Duration = Duration::from_millis(100);

/// How to reach the mailbox.
#[derive(Clone, Debug)]
pub struct ImapSettings {
    /// The server's name as in its certificate.
    pub host: String,
    /// The port: 993 for TLS from the start, 143 for STARTTLS.
    pub port: u16,
    /// How the connection is protected.
    pub security: Security,
    /// Whose certificates are believed.
    pub trust: Trust,
    /// The login.
    pub credentials: Credentials,
    /// The folder to watch.
    pub folder: String,
    /// What to do on the server with a mail that was taken.
    pub when_taken: WhenTaken,
    /// Mails received before this are left alone when everything is read anew: the service had
    /// not begun then, so they cannot be for it. None: all are taken.
    pub not_before: Option<DateTime<Utc>>,
    /// The limit for each step, but for a large mail's own time.
    pub timeout: Duration,
    /// How long to wait for news before asking whether the server is still there, 1 s to 29 min.
    pub idle: Duration,
    /// How long to wait after a first failure; doubled with each further one, up to five minutes.
    pub first_pause: Duration,
    /// How long the service may take to confirm a mail before it counts as not taken.
    pub confirm_within: Duration,
}

impl ImapSettings {
    /// Settings for this server with public certificates: folder INBOX, taken mails marked, limits
    /// of 60 seconds, a sign of life every four minutes, pauses from one second on.
    pub fn new(
        host: impl Into<String>,
        port: u16,
        security: Security,
        credentials: Credentials,
    ) -> Self {
        Self {
            host: host.into(),
            port,
            security,
            trust: Trust::Public,
            credentials,
            folder: "INBOX".into(),
            when_taken: WhenTaken::Mark,
            not_before: None,
            timeout: Duration::from_secs(60),
            idle: Duration::from_secs(4 * 60),
            first_pause: Duration::from_secs(1),
            confirm_within: Duration::from_secs(60),
        }
    }
}

/// What happens on the server to a mail that was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhenTaken {
    /// It is marked as read and, where the server allows keywords, as `$Processed`.
    Mark,
    /// It is marked and moved to this folder, which is made if need be. A server that cannot
    /// move leaves it marked.
    MoveTo(String),
}

/// A mailbox on a mail server.
#[derive(Debug)]
pub struct ImapInbox {
    settings: Box<ImapSettings>,
    shield: Shield,
}

impl ImapInbox {
    /// Prepares the inbox; nothing is dialled yet.
    ///
    /// # Errors
    /// When a certificate file cannot be used, the host is no name, or a limit is out of range.
    pub fn new(settings: ImapSettings) -> Result<Self, PostError> {
        if settings.idle < Duration::from_secs(1) || settings.idle > IDLE_MAX {
            return Err(PostError::Range {
                setting: "idle",
                allowed: "1 second to 29 minutes",
                given: format!("{} s", settings.idle.as_secs_f32()),
            });
        }
        let shield = Shield::prepare(&settings.host, settings.security, &settings.trust)?;
        Ok(Self { settings: Box::new(settings), shield })
    }

    /// The settings, and what protects the connection.
    pub(super) fn parts(&self) -> (&ImapSettings, &Shield) {
        (&self.settings, &self.shield)
    }

    pub(super) async fn run(
        self,
        from: Option<Checkpoint>,
        arrivals: mpsc::Sender<Vec<Arrival>>,
        health: watch::Sender<Connectivity>,
    ) {
        let mut taking = Taking::new(from, arrivals.clone());
        let mut failures = 0;
        loop {
            let visit = self.visit(&mut taking, &mut failures, &health);
            // The IMAP parser is fed by strangers; should it panic, mail must go on coming in.
            let ended = match AssertUnwindSafe(visit).catch_unwind().await {
                Ok(Stopped::ReceiverGone) => return,
                Ok(Stopped::Fault(fault)) => fault,
                Err(_) => Fault::new(Trouble::Protocol, "an answer could not be understood"),
            };
            failures += 1;
            tracing::warn!(failures, trouble = %ended.trouble, "mail in is down");
            let outage = Outage { failures, trouble: ended.trouble, why: ended.why };
            health.send_replace(Connectivity::Down(outage));
            tokio::select! {
                () = tokio::time::sleep(pause(self.settings.first_pause, failures)) => {}
                () = arrivals.closed() => return,
            }
        }
    }

    /// One connection, from dialling to its end.
    async fn visit(
        &self,
        taking: &mut Taking,
        failures: &mut u32,
        health: &watch::Sender<Connectivity>,
    ) -> Stopped {
        let mut link = match Link::open(&self.settings, &self.shield).await {
            Ok(link) => link,
            Err(fault) => return fault.into(),
        };
        loop {
            let round = async {
                let folder = link.open_folder(&self.settings.folder).await?;
                taking.begin(&mut link, &folder, &self.settings).await?;
                loop {
                    let came = taking.take_new(&mut link, &self.settings).await?;
                    if *failures > 0 {
                        tracing::info!(failures = *failures, "mail in is up again");
                        *failures = 0;
                    }
                    health.send_if_modified(|state| {
                        std::mem::replace(state, Connectivity::Up) != Connectivity::Up
                    });
                    let mut is_news = false;
                    if came {
                        tokio::time::sleep(ASK_AGAIN_AFTER).await;
                        is_news = link.ask_for_news().await?;
                    }
                    if !is_news {
                        let news = link.wait_for_news(self.settings.idle, taking.receiver_gone());
                        is_news = news.await?;
                    }
                    if taking.is_receiver_gone() {
                        return Err(Stopped::ReceiverGone);
                    }
                    if !is_news {
                        // Quiet: opening the folder anew shows that the server still answers, and
                        // whether it has numbered its mails anew.
                        return Ok::<(), Stopped>(());
                    }
                }
            };
            match round.await {
                Ok(()) => {}
                Err(Stopped::ReceiverGone) => {
                    link.log_out().await;
                    return Stopped::ReceiverGone;
                }
                Err(stopped) => return stopped,
            }
        }
    }
}
