//! Settings for the test servers, and small mails.

use std::collections::VecDeque;
use std::time::Duration;

use fadewatch::post::{
    Address, Arrival, Checkpoint, Connectivity, Credentials, ImapInbox, ImapSettings, Inbox,
    Outcome, Outlet, Secret, SecretText, Security, SmtpOutlet, SmtpSettings, Trust,
};
use tokio::sync::{mpsc, watch};

use crate::peers::Peers;

/// Longest wait for anything that should come at once.
const PATIENCE: Duration = Duration::from_secs(20);

pub fn address(text: &str) -> Address {
    Address::parse(text).unwrap()
}

pub fn password(peers: &Peers, user: &str) -> Credentials {
    Credentials {
        user: peers.address(user),
        secret: Secret::Password(SecretText::new(peers.password(user))),
    }
}

pub fn token(peers: &Peers, user: &str, seconds: i64) -> Credentials {
    let token = SecretText::new(peers.token(user, seconds));
    Credentials { user: peers.address(user), secret: Secret::BearerToken(token) }
}

/// The robot's way out: STARTTLS and its password.
pub fn submission(peers: &Peers) -> SmtpSettings {
    let mut settings = SmtpSettings::new(peers.host(), peers.submission_port(), Security::StartTls);
    settings.trust = Trust::Only(peers.ca_file());
    settings.credentials = Some(password(peers, "robot"));
    settings
}

/// The way in for strangers.
pub fn stranger(peers: &Peers) -> SmtpSettings {
    SmtpSettings::new(peers.host(), peers.smtp_port(), Security::PlainLoopback)
}

pub fn outlet(settings: SmtpSettings) -> Outlet {
    Outlet::Smtp(SmtpOutlet::new(settings).unwrap())
}

pub fn mail(subject: &str) -> Vec<u8> {
    format!(
        "From: Robot <robot@clinic.test>\r\nSubject: {subject}\r\n\
         Message-ID: <{subject}@clinic.test>\r\n\r\nThe words of {subject}.\r\n"
    )
    .into_bytes()
}

/// Sends a mail as a stranger to a user of the test servers.
pub async fn deliver(peers: &Peers, user: &str, subject: &str) {
    let to = address(&peers.address(user));
    let outcome =
        outlet(stranger(peers)).send(&address("someone@outside.test"), &to, &mail(subject)).await;
    assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
}

/// A user's mailbox over TLS, quick to try again.
pub fn mailbox(peers: &Peers, user: &str) -> ImapSettings {
    let mut settings = ImapSettings::new(
        peers.host(),
        peers.imaps_port(),
        Security::ImplicitTls,
        password(peers, user),
    );
    settings.trust = Trust::Only(peers.ca_file());
    settings.first_pause = Duration::from_millis(100);
    settings
}

/// A watched mailbox.
pub struct Watched {
    pub arrivals: mpsc::Receiver<Vec<Arrival>>,
    /// What came with the mail that was taken last.
    burst: VecDeque<Arrival>,
    pub health: watch::Receiver<Connectivity>,
}

pub fn watch(settings: ImapSettings, from: Option<Checkpoint>) -> Watched {
    let inbox = Inbox::Imap(ImapInbox::new(settings).unwrap());
    let (sender, arrivals) = mpsc::channel(1);
    let (teller, health) = watch::channel(Connectivity::Unknown);
    tokio::spawn(inbox.run(from, sender, teller));
    Watched { arrivals, burst: VecDeque::new(), health }
}

impl Watched {
    /// The next mail, not yet confirmed.
    pub async fn next(&mut self) -> Arrival {
        if let Some(next) = self.burst.pop_front() {
            return next;
        }
        let next = tokio::time::timeout(PATIENCE, self.arrivals.recv()).await;
        let next =
            next.unwrap_or_else(|_| panic!("no mail came; mail in is {:?}", *self.health.borrow()));
        self.burst = next.expect("the inbox goes on").into();
        self.burst.pop_front().expect("a burst holds mail")
    }

    /// The next mail, confirmed: its text and what to go on from.
    pub async fn take(&mut self) -> (String, Checkpoint) {
        let arrival = self.next().await;
        arrival.taken.send(()).unwrap();
        (
            String::from_utf8_lossy(&arrival.raw).into_owned(),
            arrival.place.checkpoint().expect("a mailbox has checkpoints"),
        )
    }

    /// Nothing comes for a while.
    pub async fn expect_silence(&mut self) {
        let next = tokio::time::timeout(Duration::from_millis(1500), self.arrivals.recv()).await;
        assert!(next.is_err() && self.burst.is_empty(), "a mail came that should not");
    }

    pub async fn until(&mut self, state: impl FnMut(&Connectivity) -> bool) -> Connectivity {
        let found = tokio::time::timeout(PATIENCE, self.health.wait_for(state)).await;
        found.expect("the state comes").expect("the inbox goes on").clone()
    }

    pub async fn until_up(&mut self) {
        self.until(|state| *state == Connectivity::Up).await;
    }
}

/// Waits until the question is answered with yes.
pub async fn eventually(what: &str, mut question: impl FnMut() -> bool) {
    let until = tokio::time::Instant::now() + PATIENCE;
    while tokio::time::Instant::now() < until {
        if question() {
            return;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    panic!("waited in vain: {what}");
}

/// Another name for this machine that leads to the same port, and is in no certificate.
pub async fn other_name(port: u16) -> (String, u16) {
    let listener = tokio::net::TcpListener::bind("127.0.0.2:0").await.unwrap();
    let other = listener.local_addr().unwrap();
    tokio::spawn(async move {
        while let Ok((mut near, _)) = listener.accept().await {
            let mut far = tokio::net::TcpStream::connect(("127.0.0.1", port)).await.unwrap();
            tokio::spawn(async move { tokio::io::copy_bidirectional(&mut near, &mut far).await });
        }
    });
    (other.ip().to_string(), other.port())
}
