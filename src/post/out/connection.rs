//! One connection to the mail server: greeting, TLS, login, and one mail after another.
//!
//! Never here: waiting for a free place, choosing a connection.
//! Promises: every step ends within its limit; nothing but EHLO and STARTTLS is said before TLS is
//! up, where TLS was asked for.

use std::time::{Duration, Instant};

use lettre::transport::smtp::authentication::{Credentials as SmtpCredentials, Mechanism};
use lettre::transport::smtp::client::{AsyncSmtpConnection, AsyncTokioStream};
use lettre::transport::smtp::commands::{Auth, Data, Ehlo, Mail, Rcpt};
use lettre::transport::smtp::extension::{ClientId, Extension, MailBodyParameter, MailParameter};
use lettre::transport::smtp::response::Response;

use super::super::address::Address;
use super::super::credentials::{BearerToken, Credentials, Secret};
use super::super::error::PostError;
use super::super::wire::{Fault, Shield, Wire, dial};
use super::leave::Leave;
use super::smtp::SmtpSettings;
use super::start_tls::start_tls;
use super::verdict::{Stage, late, verdict};
use super::{Outcome, Refusal};

/// The final answer may take longer than any other, since the server writes to its disk first;
/// RFC 5321 (4.5.3.2.6) even says ten minutes.
const FINAL_ANSWER_FACTOR: u32 = 5;

/// What a new connection needs, prepared once.
pub(super) struct Recipe {
    settings: SmtpSettings,
    shield: Shield,
    hello: ClientId,
}

impl Recipe {
    /// Reads the trusted certificates and checks the settings.
    pub fn prepare(settings: SmtpSettings) -> Result<Self, PostError> {
        let shield = Shield::prepare(&settings.host, settings.security, &settings.trust)?;
        let hello = settings.hello_name.clone().map_or_else(ClientId::default, ClientId::Domain);
        Ok(Self { settings, shield, hello })
    }

    /// The settings it was made from.
    pub fn settings(&self) -> &SmtpSettings {
        &self.settings
    }

    /// Connects, greets, starts TLS and logs in.
    pub async fn connect(&self) -> Result<Connection, Outcome> {
        let limit = self.settings.timeout;
        let unreachable =
            |fault: Fault| Outcome::Unreachable { trouble: fault.trouble, why: fault.why };
        let tcp = dial(&self.settings.host, self.settings.port, self.settings.security, limit)
            .await
            .map_err(unreachable)?;
        let stream: Box<dyn AsyncTokioStream> = match &self.shield {
            Shield::Plain => Box::new(Wire::Plain(tcp)),
            Shield::FromStart(tls) => Box::new(tls.wrap(tcp, limit).await.map_err(unreachable)?),
            Shield::AfterStartTls(tls) => {
                Box::new(start_tls(tcp, tls, &self.hello.to_string(), limit).await?)
            }
        };
        let greeting = AsyncSmtpConnection::connect_with_transport(stream, &self.hello);
        let smtp = within(Stage::Greeting, limit, greeting).await?;
        let mut connection =
            Connection { smtp, limit, pipelines: false, last_used: Instant::now() };
        connection.pipelines = connection.learn_pipelining(&self.hello).await?;
        if let Some(credentials) = &self.settings.credentials {
            connection.log_in(credentials).await?;
        }
        Ok(connection)
    }
}

/// A connection that is ready for a mail.
pub(super) struct Connection {
    smtp: AsyncSmtpConnection,
    limit: Duration,
    /// Whether the server takes several commands at once (RFC 2920).
    pipelines: bool,
    last_used: Instant,
}

/// A mail that did not go out, and how far it came.
pub(super) struct Failure {
    /// What became of the mail.
    pub outcome: Outcome,
    /// At which stage.
    pub stage: Stage,
}

impl Connection {
    /// How long it has lain idle.
    pub fn idle(&self) -> Duration {
        self.last_used.elapsed()
    }

    /// Hands one mail over. After a failure the connection is to be given up: a server that has not got
    /// the end of a mail lets go of what it has (RFC 5321, section 4.1.1.4).
    pub async fn deliver(
        &mut self,
        envelope_from: &Address,
        recipient: &Address,
        bytes: &[u8],
        leave: &Leave,
    ) -> Result<Response, Failure> {
        let mut options = vec![];
        if !bytes.is_ascii() {
            if !self.smtp.server_info().supports_feature(Extension::EightBitMime) {
                let text = "the mail holds 8-bit text, which this server does not take";
                let refusal = Refusal {
                    permanent: true,
                    recipient_at_fault: false,
                    code: 554,
                    text: text.into(),
                };
                return Err(Failure { outcome: Outcome::Refused(refusal), stage: Stage::Sender });
            }
            options.push(MailParameter::Body(MailBodyParameter::EightBitMime));
        }
        let mail = Mail::new(Some(envelope_from.for_sending()), options);
        let recipient = Rcpt::new(recipient.for_sending(), vec![]);
        if self.pipelines {
            // Whatever is refused, the mail itself is not said, and the server keeps nothing.
            self.step(Stage::Sender, format!("{mail}{recipient}{Data}")).await?;
            self.answer(Stage::Recipient).await?;
            self.answer(Stage::Data).await?;
        } else {
            self.step(Stage::Sender, mail).await?;
            self.step(Stage::Recipient, recipient).await?;
            self.step(Stage::Data, Data).await?;
        }
        // After the last wait for the server.
        leave
            .granted(self.limit)
            .await
            .map_err(|outcome| Failure { outcome, stage: Stage::Data })?;
        let handing_over = self.smtp.message(bytes);
        let limit = self.limit * FINAL_ANSWER_FACTOR;
        let reply = within(Stage::Mail, limit, handing_over)
            .await
            .map_err(|outcome| Failure { outcome, stage: Stage::Mail })?;
        self.last_used = Instant::now();
        Ok(reply)
    }

    /// Says goodbye, without caring for the answer.
    pub async fn quit(mut self) {
        let _ = tokio::time::timeout(self.limit, self.smtp.quit()).await;
    }

    async fn step(
        &mut self,
        stage: Stage,
        command: impl std::fmt::Display,
    ) -> Result<Response, Failure> {
        within(stage, self.limit, self.smtp.command(command))
            .await
            .map_err(|outcome| Failure { outcome, stage })
    }

    /// The answer to a command that was said together with the one before.
    async fn answer(&mut self, stage: Stage) -> Result<Response, Failure> {
        within(stage, self.limit, self.smtp.read_response())
            .await
            .map_err(|outcome| Failure { outcome, stage })
    }

    /// Asks once more what the server can do: the library tells only of what it uses itself.
    async fn learn_pipelining(&mut self, hello: &ClientId) -> Result<bool, Outcome> {
        let asking = self.smtp.command(Ehlo::new(hello.clone()));
        match within(Stage::Greeting, self.limit, asking).await {
            Ok(can) => Ok(can.message().any(|what| what.eq_ignore_ascii_case("PIPELINING"))),
            Err(Outcome::Refused(_)) => Ok(false),
            Err(outcome) => Err(outcome),
        }
    }

    async fn log_in(&mut self, credentials: &Credentials) -> Result<(), Outcome> {
        let shown = SmtpCredentials::new(credentials.user.clone(), credentials.secret.text());
        match &credentials.secret {
            Secret::Password(_) => {
                let mechanisms = [Mechanism::Plain, Mechanism::Login];
                within(Stage::Login, self.limit, self.smtp.auth(&mechanisms, &shown)).await?;
            }
            Secret::BearerToken(_) => {
                let token =
                    BearerToken { user: &credentials.user, token: credentials.secret.text() };
                self.show_token(shown, &token).await?;
            }
        }
        Ok(())
    }

    /// XOAUTH2, or OAUTHBEARER (RFC 7628) where the server does not offer that. A refused token is
    /// answered with a challenge that holds the reason; the refusal itself comes only after the
    /// answer to that: an empty line, or a lone Ctrl-A (RFC 7628, section 3.2.3).
    async fn show_token(
        &mut self,
        shown: SmtpCredentials,
        token: &BearerToken<'_>,
    ) -> Result<(), Outcome> {
        let knows_older = self.smtp.server_info().supports_auth_mechanism(Mechanism::Xoauth2);
        let (first, dummy) = if knows_older {
            let auth = Auth::new(Mechanism::Xoauth2, shown, None)
                .map_err(|error| verdict(Stage::Login, &error))?;
            (within(Stage::Login, self.limit, self.smtp.command(auth)).await?, "\r\n")
        } else {
            let auth = format!("AUTH OAUTHBEARER {}\r\n", token.encoded());
            (within(Stage::Login, self.limit, self.smtp.command(auth)).await?, "AQ==\r\n")
        };
        if first.has_code(334) {
            within(Stage::Login, self.limit, self.smtp.command(dummy)).await?;
        }
        Ok(())
    }
}

async fn within<T>(
    stage: Stage,
    limit: Duration,
    step: impl Future<Output = Result<T, lettre::transport::smtp::Error>>,
) -> Result<T, Outcome> {
    match tokio::time::timeout(limit, step).await {
        Ok(Ok(done)) => Ok(done),
        Ok(Err(error)) => Err(verdict(stage, &error)),
        Err(_) => Err(late(stage, limit.as_secs_f32())),
    }
}
