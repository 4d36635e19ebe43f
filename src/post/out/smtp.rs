//! The mail server as an outlet: a small pool of open connections, each mail in its own task.
//!
//! Never here: what is said on a connection.
//! Promises: never more connections at once than allowed; a mail that was handed over is never
//! handed over a second time by itself; a caller that goes away stops nothing half-way.

use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::Semaphore;

use super::super::address::Address;
use super::super::connectivity::Trouble;
use super::super::credentials::Credentials;
use super::super::error::PostError;
use super::super::wire::{Security, Trust};
use super::Outcome;
use super::connection::{Connection, Failure, Recipe};
use super::leave::Leave;
use super::verdict::Stage;

/// Connections idle for longer are closed rather than used: servers under load drop theirs after
/// as little as ten seconds, most after minutes.
const IDLE_MAX: Duration = Duration::from_secs(60);

/// How to reach the mail server.
#[derive(Clone, Debug)]
pub struct SmtpSettings {
    /// The server's name as in its certificate.
    pub host: String,
    /// The port: 587 for STARTTLS, 465 for TLS from the start.
    pub port: u16,
    /// How the connection is protected.
    pub security: Security,
    /// Whose certificates are believed.
    pub trust: Trust,
    /// The login; none where the server takes mail without.
    pub credentials: Option<Credentials>,
    /// The name given in EHLO; none: this machine's own.
    pub hello_name: Option<String>,
    /// Connections at once, 1 to 50.
    pub connections_max: usize,
    /// The limit for each step; the final answer may take five times as long.
    pub timeout: Duration,
}

impl SmtpSettings {
    /// Settings for this server, with public certificates, no login, four connections and a limit
    /// of 60 seconds a step.
    pub fn new(host: impl Into<String>, port: u16, security: Security) -> Self {
        Self {
            host: host.into(),
            port,
            security,
            trust: Trust::Public,
            credentials: None,
            hello_name: None,
            connections_max: 4,
            timeout: Duration::from_secs(60),
        }
    }
}

/// A mail server that takes our mail. Copies share their connections.
#[derive(Clone)]
pub struct SmtpOutlet(Arc<Pool>);

struct Pool {
    recipe: Recipe,
    places: Arc<Semaphore>,
    /// Connections at rest, the one used last at the end.
    resting: Mutex<Vec<Connection>>,
}

impl SmtpOutlet {
    /// Prepares the outlet; nothing is dialled yet.
    ///
    /// # Errors
    /// When a certificate file cannot be used, the host is no name, or a limit is out of range.
    pub fn new(settings: SmtpSettings) -> Result<Self, PostError> {
        if !(1..=50).contains(&settings.connections_max) {
            return Err(PostError::Range {
                setting: "connections_max",
                allowed: "1 to 50",
                given: settings.connections_max.to_string(),
            });
        }
        let places = Arc::new(Semaphore::new(settings.connections_max));
        let recipe = Recipe::prepare(settings)?;
        Ok(Self(Arc::new(Pool { recipe, places, resting: Mutex::default() })))
    }

    /// Sends one mail to one recipient, if it still may be handed over; see
    /// [`super::Outlet::send_with_leave`].
    pub async fn send_with_leave(
        &self,
        envelope_from: &Address,
        recipient: &Address,
        bytes: &[u8],
        leave: &Leave,
    ) -> Outcome {
        let pool = Arc::clone(&self.0);
        let (from, to, bytes) = (envelope_from.clone(), recipient.clone(), bytes.to_vec());
        let leave = leave.clone();
        let sending = tokio::spawn(async move { pool.send(&from, &to, &bytes, &leave).await });
        sending.await.unwrap_or_else(|broken| Outcome::InDoubt { why: broken.to_string() })
    }

    /// Connects, logs in and says goodbye; see [`super::Outlet::probe`].
    ///
    /// # Errors
    /// The step that failed.
    pub async fn probe(&self) -> Result<(), Trouble> {
        let Ok(_place) = self.0.places.acquire().await else { return Err(Trouble::Lost) };
        match self.0.recipe.connect().await {
            Ok(connection) => {
                connection.quit().await;
                Ok(())
            }
            Err(Outcome::Unreachable { trouble, .. }) => Err(trouble),
            Err(Outcome::Refused(refusal)) if matches!(refusal.code, 530 | 534 | 535 | 538) => {
                Err(Trouble::Login)
            }
            Err(Outcome::Refused(_)) => Err(Trouble::Connect),
            Err(Outcome::InDoubt { .. } | Outcome::Accepted { .. }) => Err(Trouble::Lost),
        }
    }

    /// Waits until no sending is under way, then closes the resting connections.
    pub async fn drained(&self) {
        let all = u32::try_from(self.0.recipe.settings().connections_max)
            .expect("OK because more than 50 connections are refused");
        if let Ok(_places) = self.0.places.acquire_many(all).await {
            while let Some(connection) = self.0.rested() {
                connection.quit().await;
            }
        }
    }
}

impl fmt::Debug for SmtpOutlet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("SmtpOutlet").field(self.0.recipe.settings()).finish()
    }
}

impl Pool {
    async fn send(&self, from: &Address, to: &Address, bytes: &[u8], leave: &Leave) -> Outcome {
        let Ok(_place) = self.places.acquire().await else {
            let why = "the outlet is closed".to_owned();
            return Outcome::Unreachable { trouble: Trouble::Lost, why };
        };
        if let Some(connection) = self.rested() {
            match self.deliver(connection, from, to, bytes, leave).await {
                // A rested connection may have been closed by the server meanwhile. Nothing of
                // this mail was taken then, so a fresh connection may try.
                Err(Failure { stage: Stage::Sender, outcome }) if is_closed(&outcome) => {}
                Ok(outcome) | Err(Failure { outcome, .. }) => return outcome,
            }
        }
        match self.recipe.connect().await {
            Ok(connection) => match self.deliver(connection, from, to, bytes, leave).await {
                Ok(outcome) | Err(Failure { outcome, .. }) => outcome,
            },
            Err(outcome) => outcome,
        }
    }

    async fn deliver(
        &self,
        mut connection: Connection,
        from: &Address,
        to: &Address,
        bytes: &[u8],
        leave: &Leave,
    ) -> Result<Outcome, Failure> {
        match connection.deliver(from, to, bytes, leave).await {
            Ok(response) => {
                self.rest(connection);
                let reply = response.message().collect::<Vec<_>>().join(" ");
                Ok(Outcome::Accepted { reply })
            }
            Err(failure) => {
                if matches!(failure.outcome, Outcome::Refused(_)) {
                    // The caller need not wait for the goodbye.
                    tokio::spawn(connection.quit());
                }
                Err(failure)
            }
        }
    }

    fn rested(&self) -> Option<Connection> {
        let mut resting = self.resting.lock().unwrap_or_else(PoisonError::into_inner);
        resting.retain(|connection| connection.idle() < IDLE_MAX);
        resting.pop()
    }

    fn rest(&self, connection: Connection) {
        self.resting.lock().unwrap_or_else(PoisonError::into_inner).push(connection);
    }
}

fn is_closed(outcome: &Outcome) -> bool {
    match outcome {
        Outcome::Unreachable { .. } => true,
        Outcome::Refused(refusal) => refusal.code == 421,
        Outcome::Accepted { .. } | Outcome::InDoubt { .. } => false,
    }
}
