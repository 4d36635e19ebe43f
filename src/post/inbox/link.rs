//! One connection to the mail server: login, and commands each under a limit.
//!
//! Never here: which mails to take.
//! Promises: every answer is awaited within a limit; a NO is never mistaken for an empty answer;
//! news that the server mentions beside an answer is not lost.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use async_imap::imap_proto::{Capability, MailboxDatum, Response, ResponseCode, Status};
use async_imap::{Authenticator, Client, Session};

use super::super::connectivity::Trouble;
use super::super::credentials::{BearerToken, Credentials, Secret};
use super::super::wire::{Fault, Shield, Wire, dial};
use super::imap::ImapSettings;

/// How often to ask a server that cannot tell by itself that mail came.
const ASK_EVERY: Duration = Duration::from_secs(30);

/// A connection that is logged in.
pub(super) struct Link {
    session: Session<Wire>,
    limit: Duration,
    can_idle: bool,
    /// Whether the server moves mails by itself.
    pub can_move: bool,
    /// Whether the server spoke of new mail since this was last cleared.
    news: bool,
}

/// The folder as the server described it on opening.
#[derive(Debug)]
pub(super) struct Folder {
    /// The numbering in force.
    pub uid_validity: u32,
    /// Whether our keyword can be set.
    pub keywords: bool,
}

/// How a command ended.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Ending {
    /// It was carried out.
    Done,
    /// It was refused, with these words.
    Refused(String),
}

impl Link {
    /// Dials, starts TLS, logs in and asks what the server can do.
    pub async fn open(settings: &ImapSettings, shield: &Shield) -> Result<Self, Fault> {
        let limit = settings.timeout;
        let client = connect(settings, shield).await?;
        let session = log_in(client, &settings.credentials, limit).await?;
        let mut link = Self { session, limit, can_idle: false, can_move: false, news: false };
        let (mut can_idle, mut can_move) = (false, false);
        link.demand("CAPABILITY", Trouble::Protocol, |response| {
            if let Response::Capabilities(list) = response {
                let has = |name: &str| {
                    list.iter()
                        .any(|c| matches!(c, Capability::Atom(a) if a.eq_ignore_ascii_case(name)))
                };
                (can_idle, can_move) = (has("IDLE"), has("MOVE"));
            }
        })
        .await?;
        (link.can_idle, link.can_move) = (can_idle, can_move);
        Ok(link)
    }

    /// Opens the folder; again, if it is open already.
    pub async fn open_folder(&mut self, name: &str) -> Result<Folder, Fault> {
        // A server that does not list permanent flags lets all be set (RFC 3501, 7.1).
        let mut folder = Folder { uid_validity: 0, keywords: true };
        let command = format!("SELECT {}", quoted(name));
        self.demand(&command, Trouble::Folder, |response| {
            if let Response::Data { status: Status::Ok, outcome } = response {
                match &outcome.code {
                    Some(ResponseCode::UidValidity(number)) => folder.uid_validity = *number,
                    Some(ResponseCode::PermanentFlags(flags)) => {
                        folder.keywords =
                            flags.iter().any(|f| f == "\\*" || f == super::taking::KEYWORD);
                    }
                    _ => {}
                }
            }
        })
        .await?;
        if folder.uid_validity == 0 {
            let why = "the server does not number its mails (no UIDVALIDITY)";
            return Err(Fault::new(Trouble::Folder, why));
        }
        Ok(folder)
    }

    /// Runs a command that has to be carried out.
    pub async fn demand(
        &mut self,
        command: &str,
        trouble: Trouble,
        each: impl FnMut(&Response<'_>),
    ) -> Result<(), Fault> {
        match self.command(command, self.limit, each).await? {
            Ending::Done => Ok(()),
            Ending::Refused(words) => Err(Fault::new(trouble, words)),
        }
    }

    /// Runs a command and shows each untagged response on the way; each must come within `limit`.
    pub async fn command(
        &mut self,
        command: &str,
        limit: Duration,
        each: impl FnMut(&Response<'_>),
    ) -> Result<Ending, Fault> {
        let tag = within(limit, self.session.run_command(command)).await?;
        self.until_done(&tag.0, limit, each).await
    }

    /// The usual limit for one answer.
    pub fn limit(&self) -> Duration {
        self.limit
    }

    /// Forgets the news so far; to be called before asking what there is.
    pub fn clear_news(&mut self) {
        self.news = false;
    }

    /// Asks whether new mail came, without waiting to be told.
    pub async fn ask_for_news(&mut self) -> Result<bool, Fault> {
        self.demand("NOOP", Trouble::Protocol, |_| {}).await?;
        Ok(self.news)
    }

    /// Waits until the server speaks of new mail (true) or all was quiet for `patience` (false).
    /// Ends early, as if there were news, when `gone` comes.
    pub async fn wait_for_news(
        &mut self,
        patience: Duration,
        gone: impl Future<Output = ()>,
    ) -> Result<bool, Fault> {
        tokio::pin!(gone);
        if !self.can_idle {
            tokio::select! {
                () = tokio::time::sleep(patience.min(ASK_EVERY)) => {}
                () = &mut gone => return Ok(true),
            }
            return self.ask_for_news().await;
        }
        let tag = within(self.limit, self.session.run_command("IDLE")).await?;
        // Servers may mention news before they say that they are listening.
        while !self.next(self.limit, listens).await?? {}
        let until = tokio::time::Instant::now() + patience;
        let mut left = false;
        while !self.news && !left {
            tokio::select! {
                answer = self.session.read_response() => match answer.map_err(lost)? {
                    Some(response) => self.news |= is_news(response.parsed()),
                    None => return Err(hung_up()),
                },
                () = tokio::time::sleep_until(until) => break,
                () = &mut gone => left = true,
            }
        }
        within(self.limit, self.session.run_command_untagged("DONE")).await?;
        match self.until_done(&tag.0, self.limit, |_| {}).await? {
            Ending::Done => Ok(self.news || left),
            Ending::Refused(words) => Err(Fault::new(Trouble::Protocol, words)),
        }
    }

    /// Takes leave, without caring for the answer.
    pub async fn log_out(&mut self) {
        let limit = self.limit.min(Duration::from_secs(2));
        let _ = self.command("LOGOUT", limit, |_| {}).await;
    }

    async fn until_done(
        &mut self,
        tag: &str,
        limit: Duration,
        mut each: impl FnMut(&Response<'_>),
    ) -> Result<Ending, Fault> {
        loop {
            let ending = self.next(limit, |response| match response {
                Response::Done { tag: of, status, outcome } if of.0 == tag => {
                    let words = words(outcome.information.as_deref());
                    Some(match status {
                        Status::Ok => Ok(Ending::Done),
                        Status::No => Ok(Ending::Refused(words)),
                        _ => Err(Fault::new(Trouble::Protocol, words)),
                    })
                }
                other => {
                    each(other);
                    None
                }
            });
            if let Some(ending) = ending.await? {
                return ending;
            }
        }
    }

    /// Reads one response, notes whether it is news, and shows it.
    async fn next<T>(
        &mut self,
        limit: Duration,
        mut show: impl FnMut(&Response<'_>) -> T,
    ) -> Result<T, Fault> {
        match within_io(limit, self.session.read_response()).await? {
            Some(response) => {
                self.news |= is_news(response.parsed());
                Ok(show(response.parsed()))
            }
            None => Err(hung_up()),
        }
    }
}

fn is_news(response: &Response<'_>) -> bool {
    let Response::MailboxData(datum) = response else { return false };
    matches!(datum, MailboxDatum::Exists(_) | MailboxDatum::Recent(_))
}

/// Whether the server listens after IDLE; an end of the command instead is its refusal.
fn listens(response: &Response<'_>) -> Result<bool, Fault> {
    match response {
        Response::Continue(_) => Ok(true),
        Response::Done { outcome, .. } => {
            Err(Fault::new(Trouble::Protocol, words(outcome.information.as_deref())))
        }
        _ => Ok(false),
    }
}

fn hung_up() -> Fault {
    Fault::new(Trouble::Lost, "the server closed the connection")
}

async fn connect(settings: &ImapSettings, shield: &Shield) -> Result<Client<Wire>, Fault> {
    let limit = settings.timeout;
    let tcp = dial(&settings.host, settings.port, settings.security, limit).await?;
    let wire = match shield {
        Shield::FromStart(tls) => tls.wrap(tcp, limit).await?,
        Shield::Plain | Shield::AfterStartTls(_) => Wire::Plain(tcp),
    };
    let mut client = Client::new(wire);
    let greeting = within_io(limit, client.read_response()).await?;
    match greeting.as_ref().map(|greeting| greeting.parsed()) {
        Some(Response::Data { status: Status::Ok, .. }) => {}
        Some(Response::Data { status: Status::Bye, outcome }) => {
            return Err(Fault::new(Trouble::Connect, words(outcome.information.as_deref())));
        }
        _ => return Err(Fault::new(Trouble::Protocol, "no greeting of an IMAP server")),
    }
    let Shield::AfterStartTls(tls) = shield else { return Ok(client) };
    within(limit, client.run_command_and_check_ok("STARTTLS", None))
        .await
        .map_err(|fault| Fault::new(Trouble::Tls, format!("STARTTLS: {}", fault.why)))?;
    // What was sent in the clear after the answer is dropped with the old client, so nobody in
    // between can slip in words before TLS is up.
    match client.into_inner() {
        Wire::Plain(tcp) => Ok(Client::new(tls.wrap(tcp, limit).await?)),
        Wire::Tls(_) => Err(Fault::new(Trouble::Tls, "TLS is up already")),
    }
}

async fn log_in(
    client: Client<Wire>,
    credentials: &Credentials,
    limit: Duration,
) -> Result<Session<Wire>, Fault> {
    let (user, secret) = (&credentials.user, credentials.secret.text());
    // The LOGIN command carries printable ASCII only.
    let printable = |text: &str| text.bytes().all(|b| (b' '..=b'~').contains(&b));
    let attempt = async {
        match &credentials.secret {
            Secret::Password(_) if printable(user) && printable(&secret) => {
                client.login(user, &secret).await
            }
            Secret::Password(_) => {
                let once = Once::new(format!("\0{user}\0{secret}"), "");
                client.authenticate("PLAIN", once).await
            }
            Secret::BearerToken(_) => {
                let once = Once::new(format!("user={user}\x01auth=Bearer {secret}\x01\x01"), "");
                let is_asked = Arc::clone(&once.is_asked);
                match client.authenticate("XOAUTH2", once).await {
                    // Refused before the token was shown: the server does not know this way.
                    Err((_, client)) if !is_asked.load(Ordering::Relaxed) => {
                        let token = BearerToken { user, token: secret };
                        // The dummy answer is a lone Ctrl-A (RFC 7628, section 3.2.3).
                        client.authenticate("OAUTHBEARER", Once::new(token.message(), "\x01")).await
                    }
                    ended => ended,
                }
            }
        }
    };
    match tokio::time::timeout(limit, attempt).await {
        Ok(Ok(session)) => Ok(session),
        Ok(Err((async_imap::error::Error::No(words), _))) => Err(Fault::new(Trouble::Login, words)),
        Ok(Err((error, _))) => Err(fault(error)),
        Err(_) => Err(Fault::late(Trouble::Lost, "login", limit)),
    }
}

/// Answers the first challenge with the proof and any other with a dummy: a refused token is
/// explained in a second challenge, and the refusal itself comes only after that is answered.
struct Once {
    proof: Option<String>,
    dummy: &'static str,
    /// Whether the server wanted to see the proof.
    is_asked: Arc<AtomicBool>,
}

impl Once {
    fn new(proof: String, dummy: &'static str) -> Self {
        Self { proof: Some(proof), dummy, is_asked: Arc::default() }
    }
}

impl Authenticator for Once {
    type Response = String;

    fn process(&mut self, _challenge: &[u8]) -> String {
        self.is_asked.store(true, Ordering::Relaxed);
        self.proof.take().unwrap_or_else(|| self.dummy.to_owned())
    }
}

/// A name as a quoted string of the protocol.
pub(super) fn quoted(name: &str) -> String {
    let mut text = String::from("\"");
    for c in name.chars().filter(|c| !c.is_control()) {
        if matches!(c, '"' | '\\') {
            text.push('\\');
        }
        text.push(c);
    }
    text.push('"');
    text
}

async fn within<T>(
    limit: Duration,
    step: impl Future<Output = async_imap::error::Result<T>>,
) -> Result<T, Fault> {
    match tokio::time::timeout(limit, step).await {
        Ok(done) => done.map_err(fault),
        Err(_) => Err(Fault::late(Trouble::Lost, "answer of the mail server", limit)),
    }
}

async fn within_io<T>(
    limit: Duration,
    step: impl Future<Output = std::io::Result<T>>,
) -> Result<T, Fault> {
    match tokio::time::timeout(limit, step).await {
        Ok(done) => done.map_err(lost),
        Err(_) => Err(Fault::late(Trouble::Lost, "answer of the mail server", limit)),
    }
}

fn fault(error: async_imap::error::Error) -> Fault {
    match error {
        async_imap::error::Error::Io(error) => lost(error),
        async_imap::error::Error::ConnectionLost => Fault::new(Trouble::Lost, error),
        _ => Fault::new(Trouble::Protocol, error),
    }
}

/// The library wraps an answer that it cannot read into an I/O error of kind `Other`, with the
/// answer in its words: those must go no further.
fn lost(error: std::io::Error) -> Fault {
    if error.kind() == std::io::ErrorKind::Other {
        return Fault::new(Trouble::Protocol, "an answer could not be understood");
    }
    Fault::new(Trouble::Lost, error)
}

fn words(information: Option<&str>) -> String {
    information.unwrap_or("no reason given").to_owned()
}
