//! The door: taking connections in, speaking TLS, handing requests to the pages.
//!
//! Never here: what any page shows.
//! Promises: so many connections and no more; one that says nothing, or reads nothing, is ended; a
//! connection that fails ends nothing but itself.

use std::io;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::ConnectInfo;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use rustls_pki_types::pem::PemObject;
use rustls_pki_types::{CertificateDer, PrivateKeyDer};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;

use super::guard::Peer;
use crate::config::{BoardSettings, TlsFiles};

/// Connections at once: a clinic's staff with a page or two each (common practice, no source).
const CONNECTIONS_MAX: usize = 200;
/// How long a TLS handshake, or the head of a request, may take.
const HEAD_WITHIN: Duration = Duration::from_secs(10);
/// How long a connection may last in all; a page that listens for news connects anew.
const LASTS: Duration = Duration::from_secs(15 * 60);
/// How long to wait after the system could not take a connection in.
const AFTER_FAILURE: Duration = Duration::from_millis(200);

/// Listens, and answers until it is dropped.
///
/// # Errors
/// When it cannot listen, or its certificate cannot be used.
pub(super) async fn open(
    settings: &BoardSettings,
    pages: Router,
    is_open: impl Fn(),
) -> io::Result<()> {
    let tls = settings.tls.as_ref().map(acceptor).transpose()?;
    let listener = TcpListener::bind(settings.listen).await?;
    is_open();
    tracing::info!(address = %settings.address, "the board is open");
    let places = Arc::new(Semaphore::new(CONNECTIONS_MAX));
    loop {
        let (stream, peer) = match listener.accept().await {
            Ok(accepted) => accepted,
            Err(error) => {
                tracing::warn!(%error, "a connection to the board could not be taken");
                tokio::time::sleep(AFTER_FAILURE).await;
                continue;
            }
        };
        // With all places taken the connection is dropped: a browser tries again by itself.
        let Ok(place) = Arc::clone(&places).try_acquire_owned() else { continue };
        let (tls, pages) = (tls.clone(), pages.clone());
        tokio::spawn(async move {
            // However a connection ends, there is nobody to tell.
            let _ = tokio::time::timeout(LASTS, answer(stream, peer.ip(), tls, pages)).await;
            drop(place);
        });
    }
}

async fn answer(stream: TcpStream, peer: IpAddr, tls: Option<TlsAcceptor>, pages: Router) {
    match tls {
        None => speak(stream, peer, pages).await,
        Some(tls) => {
            if let Ok(Ok(stream)) = tokio::time::timeout(HEAD_WITHIN, tls.accept(stream)).await {
                speak(stream, peer, pages).await;
            }
        }
    }
}

async fn speak(
    stream: impl AsyncRead + AsyncWrite + Unpin + Send + 'static,
    peer: IpAddr,
    pages: Router,
) {
    let pages = TowerToHyperService::new(pages);
    let service = service_fn(move |mut request: hyper::Request<Incoming>| {
        request.extensions_mut().insert(ConnectInfo(Peer(peer)));
        hyper::service::Service::call(&pages, request)
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_WITHIN)
        .serve_connection(TokioIo::new(stream), service);
    // A browser that goes away in the middle is no news.
    let _ = connection.await;
}

fn acceptor(files: &TlsFiles) -> io::Result<TlsAcceptor> {
    let unusable = |what: &str, error: &dyn std::fmt::Display| {
        io::Error::new(io::ErrorKind::InvalidData, format!("{what}: {error}"))
    };
    let chain = CertificateDer::pem_file_iter(&files.certificate)
        .and_then(Iterator::collect::<Result<Vec<_>, _>>)
        .map_err(|error| unusable("the board's certificate cannot be read", &error))?;
    let key = PrivateKeyDer::from_pem_file(&files.key)
        .map_err(|error| unusable("the key of the board's certificate cannot be read", &error))?;
    let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|error| unusable("TLS cannot be set up", &error))?
        .with_no_client_auth()
        .with_single_cert(chain, key)
        .map_err(|error| unusable("the board's certificate and key do not fit", &error))?;
    Ok(TlsAcceptor::from(Arc::new(config)))
}
