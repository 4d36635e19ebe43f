//! The connection under SMTP and IMAP: TCP without Nagle's delay, TLS with certificate checking.
//!
//! Never here: commands of either protocol, secrets.
//! Promises: a certificate is always checked, and there is no setting against it; a plain
//! connection goes to this machine only, judged by the addresses that are really dialled.

use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use rustls_pki_types::pem::PemObject;
use rustls_pki_types::{CertificateDer, ServerName};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::{self, ClientConfig, RootCertStore};
use tokio_rustls::{TlsConnector, rustls::crypto::ring};

use super::connectivity::Trouble;
use super::error::PostError;

/// How a connection is protected.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Security {
    /// Plain at first, TLS demanded before anything else is said (SMTP 587, IMAP 143).
    StartTls,
    /// TLS from the first byte (SMTP 465, IMAP 993).
    ImplicitTls,
    /// No protection; refused unless the host is this machine.
    PlainLoopback,
}

/// Whose certificates are believed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Trust {
    /// The public certificate authorities, as compiled in.
    #[default]
    Public,
    /// The public ones and those in this PEM file.
    PublicAnd(PathBuf),
    /// Only those in this PEM file.
    Only(PathBuf),
}

/// A step that failed, with words for the clinic.
#[derive(Debug)]
pub(super) struct Fault {
    /// Which step.
    pub trouble: Trouble,
    /// The failing party's words.
    pub why: String,
}

impl Fault {
    /// A failed step with the words of an error.
    pub fn new(trouble: Trouble, why: impl ToString) -> Self {
        Self { trouble, why: why.to_string() }
    }

    /// A step that took too long.
    pub fn late(trouble: Trouble, what: &str, limit: Duration) -> Self {
        Self { trouble, why: format!("{what}: nothing came within {} s", limit.as_secs_f32()) }
    }
}

/// TLS for one host, ready to use.
#[derive(Clone)]
pub(super) struct Tls {
    connector: TlsConnector,
    name: ServerName<'static>,
}

impl std::fmt::Debug for Tls {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Tls").field("name", &self.name).finish_non_exhaustive()
    }
}

impl Tls {
    /// Reads the trusted certificates and prepares the checks for `host`.
    pub fn prepare(host: &str, trust: &Trust) -> Result<Self, PostError> {
        let name = ServerName::try_from(host.to_owned())
            .map_err(|_| PostError::HostName { host: host.to_owned() })?;
        let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .map_err(|e| PostError::Tls { host: host.to_owned(), source: Box::new(e) })?
            .with_root_certificates(roots(trust)?)
            .with_no_client_auth();
        Ok(Self { connector: TlsConnector::from(Arc::new(config)), name })
    }

    /// The TLS handshake, within the limit.
    pub async fn wrap(&self, stream: TcpStream, limit: Duration) -> Result<Wire, Fault> {
        let handshake = self.connector.connect(self.name.clone(), stream);
        match tokio::time::timeout(limit, handshake).await {
            Ok(Ok(stream)) => Ok(Wire::Tls(Box::new(stream))),
            Ok(Err(error)) => Err(Fault::new(Trouble::Tls, error)),
            Err(_) => Err(Fault::late(Trouble::Tls, "TLS handshake", limit)),
        }
    }
}

/// How one connection is to be protected, with what that takes.
#[derive(Clone, Debug)]
pub(super) enum Shield {
    /// Not at all; [`dial`] sees to it that it stays on this machine.
    Plain,
    /// TLS from the first byte.
    FromStart(Tls),
    /// TLS once the server agreed to it.
    AfterStartTls(Tls),
}

impl Shield {
    /// Prepares TLS where it is asked for.
    pub fn prepare(host: &str, security: Security, trust: &Trust) -> Result<Self, PostError> {
        Ok(match security {
            Security::PlainLoopback => Self::Plain,
            Security::ImplicitTls => Self::FromStart(Tls::prepare(host, trust)?),
            Security::StartTls => Self::AfterStartTls(Tls::prepare(host, trust)?),
        })
    }
}

/// Dials the host, within the limit.
pub(super) async fn dial(
    host: &str,
    port: u16,
    security: Security,
    limit: Duration,
) -> Result<TcpStream, Fault> {
    let lookup = tokio::time::timeout(limit, tokio::net::lookup_host((host, port)));
    let addresses: Vec<SocketAddr> = match lookup.await {
        Ok(Ok(found)) => found.collect(),
        Ok(Err(error)) => return Err(Fault::new(Trouble::NameLookup, error)),
        Err(_) => return Err(Fault::late(Trouble::NameLookup, "name lookup", limit)),
    };
    if security == Security::PlainLoopback && !addresses.iter().all(|a| a.ip().is_loopback()) {
        return Err(Fault::new(
            Trouble::NotLoopback,
            format!("{host} is another machine: use TLS, a plain connection would show the mails"),
        ));
    }
    let mut last = Fault::new(Trouble::NameLookup, format!("{host} has no address"));
    for address in addresses {
        last = match tokio::time::timeout(limit, TcpStream::connect(address)).await {
            Ok(Ok(stream)) => {
                // Body and final dot are written apart; with Nagle's delay that costs 40 ms a mail.
                stream.set_nodelay(true).map_err(|e| Fault::new(Trouble::Connect, e))?;
                return Ok(stream);
            }
            Ok(Err(error)) => Fault::new(Trouble::Connect, format!("{address}: {error}")),
            Err(_) => Fault::late(Trouble::Connect, "connecting", limit),
        };
    }
    Err(last)
}

/// The certificates in a PEM file, at least one.
fn certificates_in(path: &Path) -> Result<Vec<CertificateDer<'static>>, PostError> {
    let pem = std::fs::read(path)
        .map_err(|source| PostError::CaUnreadable { path: path.to_owned(), source })?;
    let unusable = || PostError::CaUnusable { path: path.to_owned() };
    let found: Vec<_> =
        CertificateDer::pem_slice_iter(&pem).collect::<Result<_, _>>().map_err(|_| unusable())?;
    if found.is_empty() { Err(unusable()) } else { Ok(found) }
}

fn roots(trust: &Trust) -> Result<RootCertStore, PostError> {
    let mut store = RootCertStore::empty();
    let (public, own) = match trust {
        Trust::Public => (true, None),
        Trust::PublicAnd(path) => (true, Some(path)),
        Trust::Only(path) => (false, Some(path)),
    };
    if public {
        store.extend(webpki_roots::TLS_SERVER_ROOTS.iter().cloned());
    }
    if let Some(path) = own {
        for certificate in certificates_in(path)? {
            store
                .add(certificate)
                .map_err(|_: rustls::Error| PostError::CaUnusable { path: path.clone() })?;
        }
    }
    Ok(store)
}

/// A plain or a TLS connection, for both mail libraries.
#[derive(Debug)]
pub(super) enum Wire {
    /// Nothing but TCP.
    Plain(TcpStream),
    /// TLS, its certificate checked.
    Tls(Box<TlsStream<TcpStream>>),
}

impl lettre::transport::smtp::client::AsyncTokioStream for Wire {
    fn peer_addr(&self) -> io::Result<SocketAddr> {
        match self {
            Self::Plain(stream) => stream.peer_addr(),
            Self::Tls(stream) => stream.get_ref().0.peer_addr(),
        }
    }
}

impl AsyncRead for Wire {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_read(cx, buf),
            Self::Tls(stream) => Pin::new(stream).poll_read(cx, buf),
        }
    }
}

impl AsyncWrite for Wire {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &[u8],
    ) -> Poll<io::Result<usize>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_write(cx, buf),
            Self::Tls(stream) => Pin::new(stream).poll_write(cx, buf),
        }
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_flush(cx),
            Self::Tls(stream) => Pin::new(stream).poll_flush(cx),
        }
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_shutdown(cx),
            Self::Tls(stream) => Pin::new(stream).poll_shutdown(cx),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_plain_connection_to_another_machine_is_refused_before_dialling() {
        // 192.0.2.0/24 is reserved for documentation: dialling it could never answer.
        let fault = dial("192.0.2.1", 25, Security::PlainLoopback, Duration::from_secs(5))
            .await
            .unwrap_err();
        assert_eq!(fault.trouble, Trouble::NotLoopback);
    }

    #[test]
    fn a_missing_or_empty_ca_file_says_which_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ca.pem");
        let missing = Tls::prepare("mail.clinic.test", &Trust::Only(path.clone())).err().unwrap();
        assert!(missing.to_string().contains("ca.pem"), "{missing}");
        std::fs::write(&path, "no certificate").unwrap();
        let empty = Tls::prepare("mail.clinic.test", &Trust::PublicAnd(path)).err().unwrap();
        assert!(empty.to_string().contains("BEGIN CERTIFICATE"), "{empty}");
    }

    #[test]
    fn a_host_that_cannot_be_a_name_is_refused() {
        assert!(Tls::prepare("mail clinic", &Trust::Public).is_err());
    }
}
