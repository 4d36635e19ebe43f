//! The same libraries with nothing around them: IMAP that waits and reads, SMTP that sends.
//!
//! Never here: anything of the service; keeping, deciding, noting.
//! Promises: connections are open and logged in before any clock starts.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, mpsc};
use std::task::{Context, Poll};
use std::time::{Duration, Instant, SystemTime};

use async_imap::types::UnsolicitedResponse;
use futures_util::TryStreamExt;
use lettre::transport::smtp::authentication::{Credentials, Mechanism};
use lettre::transport::smtp::client::{AsyncSmtpConnection, AsyncTokioStream};
use lettre::transport::smtp::extension::ClientId;
use lettre::{Address, address::Envelope};
use rustls_pki_types::pem::PemObject;
use rustls_pki_types::{CertificateDer, ServerName};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::{ClientConfig, RootCertStore};

use crate::answered::delivered_to;
use crate::peers::Peers;

/// A mail as large as an alert is.
const ALERT_LINES: usize = 300;

/// A loop that answers each mail in a mailbox with an alert.
pub struct Loop {
    accepted: mpsc::Receiver<(String, Duration)>,
}

impl Loop {
    /// Starts the loop on the mailbox of a user.
    pub fn start(peers: &Peers, user: &'static str) -> Self {
        let (accept, accepted) = mpsc::channel();
        let (ready, is_ready) = mpsc::channel();
        let account = Account::of(peers, user);
        let imaps = peers.imaps_port();
        let clinician = peers.address("bob");
        std::thread::spawn(move || {
            runtime().block_on(async move {
                let mut smtp = account.smtp().await;
                let client = async_imap::Client::new(account.tls(imaps).await.0);
                let mut imap = client
                    .login(&account.user, &account.password)
                    .await
                    .map_err(|(error, _)| error)
                    .unwrap();
                let folder = imap.select("INBOX").await.unwrap();
                let mut next = folder.uid_next.unwrap();
                let alert = "A line of an alert that is about as long as most are.\r\n";
                let alert = format!("Subject: Alert\r\n\r\n{}", alert.repeat(ALERT_LINES));
                ready.send(()).unwrap();
                let mut is_told = false;
                loop {
                    if !is_told {
                        let mut waiting = imap.idle();
                        waiting.init().await.unwrap();
                        waiting.wait().0.await.unwrap();
                        imap = waiting.done().await.unwrap();
                    }
                    let fetched: Vec<_> = imap
                        .uid_fetch(format!("{next}:*"), "(UID BODY.PEEK[])")
                        .await
                        .unwrap()
                        .try_collect()
                        .await
                        .unwrap();
                    for mail in &fetched {
                        // A range of mails that are not there yet means the last one.
                        if mail.uid.unwrap() < next {
                            continue;
                        }
                        next = mail.uid.unwrap() + 1;
                        let parser = mail_parser::MessageParser::default();
                        std::hint::black_box(parser.parse(mail.body().unwrap()));
                        let to = delivered_to(mail.body().unwrap()).unwrap();
                        let envelope = envelope(&account.user, &clinician);
                        smtp.send(&envelope, alert.as_bytes()).await.unwrap();
                        let since_1970 = SystemTime::UNIX_EPOCH.elapsed().unwrap();
                        if accept.send((to, since_1970)).is_err() {
                            return;
                        }
                    }
                    let read: Vec<_> = imap
                        .uid_store(format!("{}", next - 1), "+FLAGS (\\Seen)")
                        .await
                        .unwrap()
                        .try_collect()
                        .await
                        .unwrap();
                    std::hint::black_box(read);
                    // What came meanwhile was told of already, and waiting would not tell of it again.
                    is_told = false;
                    while let Ok(told) = imap.unsolicited_responses.try_recv() {
                        is_told |= matches!(told, UnsolicitedResponse::Exists(_));
                    }
                }
            });
        });
        is_ready.recv().unwrap();
        Self { accepted }
    }

    /// Whom the next mail that was answered was for, and when the alert was accepted, since 1970.
    pub fn accepted(&mut self) -> (String, Duration) {
        self.accepted.recv_timeout(Duration::from_secs(60)).expect("the bare loop answers")
    }
}

/// How many mails a second the library hands over.
pub fn sent_per_second(
    peers: &Peers,
    to: &str,
    raw: &[u8],
    count: usize,
    connections: usize,
) -> f64 {
    let account = Account::of(peers, "box2");
    runtime().block_on(async {
        let mut open = Vec::new();
        for _ in 0..connections {
            open.push(account.smtp().await);
        }
        let (left, raw): (_, Arc<[u8]>) = (Arc::new(AtomicUsize::new(count)), raw.into());
        let envelope = Arc::new(envelope(&account.user, to));
        let begun = Instant::now();
        let sending: Vec<_> = open
            .into_iter()
            .map(|mut smtp| {
                let (left, raw, envelope) = (left.clone(), raw.clone(), envelope.clone());
                tokio::spawn(async move {
                    let one_less = |left: usize| left.checked_sub(1);
                    while left.fetch_update(Ordering::Relaxed, Ordering::Relaxed, one_less).is_ok()
                    {
                        smtp.send(&envelope, &raw).await.unwrap();
                    }
                })
            })
            .collect();
        for task in sending {
            task.await.unwrap();
        }
        count as f64 / begun.elapsed().as_secs_f64()
    })
}

fn runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap()
}

fn envelope(from: &str, to: &str) -> Envelope {
    let address = |text: &str| text.parse::<Address>().unwrap();
    Envelope::new(Some(address(from)), vec![address(to)]).unwrap()
}

/// A user of the servers.
struct Account {
    user: String,
    password: String,
    host: String,
    smtps: u16,
    tls: TlsConnector,
}

impl Account {
    fn of(peers: &Peers, user: &str) -> Self {
        let mut roots = RootCertStore::empty();
        for certificate in CertificateDer::pem_file_iter(peers.ca_file()).unwrap() {
            roots.add(certificate.unwrap()).unwrap();
        }
        let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        Self {
            user: peers.address(user),
            password: peers.password(user),
            host: peers.host().to_owned(),
            smtps: peers.smtps_port(),
            tls: Arc::new(config).into(),
        }
    }

    async fn tls(&self, port: u16) -> Tls {
        let tcp = TcpStream::connect((self.host.as_str(), port)).await.unwrap();
        tcp.set_nodelay(true).unwrap();
        let host = ServerName::try_from(self.host.clone()).unwrap();
        Tls(self.tls.connect(host, tcp).await.unwrap())
    }

    async fn smtp(&self) -> AsyncSmtpConnection {
        let stream = Box::new(self.tls(self.smtps).await);
        let hello = ClientId::default();
        let mut smtp = AsyncSmtpConnection::connect_with_transport(stream, &hello).await.unwrap();
        let shown = Credentials::new(self.user.clone(), self.password.clone());
        smtp.auth(&[Mechanism::Plain], &shown).await.unwrap();
        smtp
    }
}

/// A TLS connection as the SMTP library takes one.
#[derive(Debug)]
struct Tls(TlsStream<TcpStream>);

impl AsyncTokioStream for Tls {
    fn peer_addr(&self) -> io::Result<SocketAddr> {
        self.0.get_ref().0.peer_addr()
    }
}

impl AsyncRead for Tls {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_read(cx, into)
    }
}

impl AsyncWrite for Tls {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.0).poll_write(cx, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_shutdown(cx)
    }
}
