//! Where the board listens, and what protects it on its way to a browser.
//!
//! Never here: listening; reading certificates.
//! Promises: without a `[board]` table there is no board; an address that others can reach is
//! refused unless TLS or a trusted proxy protects it.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use http::Uri;
use http::uri::{Authority, Scheme};

use super::shape::{Key, Kind, Shape};
use super::table::{At, Table};

/// All of `[board]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoardSettings {
    /// Where it listens.
    pub listen: SocketAddr,
    /// What browsers call it.
    pub address: BoardAddress,
    /// Its certificate; without one it speaks plain HTTP, on loopback or to the proxy before it.
    pub tls: Option<TlsFiles>,
    /// Whether a proxy that the clinic trusts stands before it, and speaks TLS with the browsers.
    pub behind_proxy: bool,
}

/// A certificate and its key, in PEM.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TlsFiles {
    /// The certificate, with those that vouch for it.
    pub certificate: PathBuf,
    /// Its key.
    pub key: PathBuf,
}

/// The beginning of every address of the board: scheme, host and port, no more.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoardAddress {
    is_https: bool,
    host: Authority,
}

impl BoardSettings {
    /// A board for this machine only, without TLS.
    pub fn on_loopback(port: u16) -> Self {
        let listen = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
        let host = format!("127.0.0.1:{port}");
        let host = host.parse().expect("OK because an IPv4 address with a port is a host");
        let address = BoardAddress { is_https: false, host };
        Self { listen, address, tls: None, behind_proxy: false }
    }
}

impl BoardAddress {
    /// Whether browsers reach the board by HTTPS.
    pub fn is_https(&self) -> bool {
        self.is_https
    }

    /// Host and port, as a browser sends them with each request.
    pub fn host(&self) -> &str {
        self.host.as_str()
    }

    fn plain(listen: SocketAddr) -> Option<Self> {
        Some(Self { is_https: false, host: listen.to_string().parse().ok()? })
    }

    fn read(text: &str) -> Option<Self> {
        let uri: Uri = text.parse().ok()?;
        let is_https = match uri.scheme() {
            Some(scheme) if *scheme == Scheme::HTTPS => true,
            Some(scheme) if *scheme == Scheme::HTTP => false,
            _ => return None,
        };
        let host = uri.authority()?;
        let is_bare = matches!(uri.path(), "" | "/") && uri.query().is_none();
        let host = host.as_str().to_ascii_lowercase();
        (is_bare && !host.contains('@')).then_some(Self { is_https, host: host.parse().ok()? })
    }
}

impl std::fmt::Display for BoardAddress {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let scheme = if self.is_https { "https" } else { "http" };
        write!(f, "{scheme}://{}", self.host)
    }
}

/// Reads `[board]`.
pub(super) fn board(table: &Table<'_>) -> Option<BoardSettings> {
    let listen = listen(table);
    let tls = tls(table);
    let behind_proxy = if table.has("behind_proxy") {
        table.yes_no("behind_proxy").map(|behind| behind.value)
    } else {
        Some(false)
    };
    let (listen, tls, behind_proxy) = (listen?, tls?, behind_proxy?);
    let is_protected = tls.is_some() || behind_proxy;
    if !is_protected && !listen.value.ip().is_loopback() {
        table
            .report
            .error(listen.span, "the board would be open to the network unprotected".to_owned())
            .label("others can reach this address")
            .why("names and findings of clients would cross the network in the clear")
            .help(
                "listen on this machine only: listen = \"127.0.0.1:8470\"\nor protect it: \
                 `certificate` and `key`, or `behind_proxy = true` where a proxy of yours speaks \
                 TLS before it",
            );
        return None;
    }
    let address = address(table, listen.value, is_protected)?;
    Some(BoardSettings { listen: listen.value, address, tls, behind_proxy })
}

fn listen(table: &Table<'_>) -> Option<At<SocketAddr>> {
    let text = table.text("listen")?;
    match text.value.parse::<SocketAddr>() {
        Ok(listen) if listen.port() != 0 => Some(At { value: listen, span: text.span }),
        _ => {
            table
                .report
                .error(text.span, format!("`{}` is no address to listen on", text.value))
                .label("an IP address and a port are needed")
                .help("for this machine only: listen = \"127.0.0.1:8470\"");
            None
        }
    }
}

fn tls(table: &Table<'_>) -> Option<Option<TlsFiles>> {
    match (table.has("certificate"), table.has("key")) {
        (false, false) => Some(None),
        (true, true) => {
            let (certificate, key) = (table.path_at("certificate"), table.path_at("key"));
            Some(Some(TlsFiles { certificate: certificate?, key: key? }))
        }
        (true, false) | (false, true) => {
            let there = if table.has("key") { "key" } else { "certificate" };
            table
                .report
                .error(
                    table.key_span(there),
                    "a certificate and its key belong together".to_owned(),
                )
                .label("the other one is missing")
                .help("name both: `certificate` and `key`");
            None
        }
    }
}

fn address(table: &Table<'_>, listen: SocketAddr, is_protected: bool) -> Option<BoardAddress> {
    if !table.has("address") {
        if !is_protected {
            return BoardAddress::plain(listen);
        }
        table
            .report
            .error(table.span.clone(), "`address` is missing".to_owned())
            .label("what browsers call the board is not known")
            .why("it stands in the sign-in links that go out by mail")
            .help("add `address = \"https://board.clinic.example\"`")
            .for_absence();
        return None;
    }
    let text = table.text("address")?;
    let wrong = |what: String, label: &str| {
        table
            .report
            .error(text.span.clone(), what)
            .label(label)
            .help("write it as `address = \"https://board.clinic.example\"`");
        None
    };
    match BoardAddress::read(text.value) {
        None => wrong(
            format!("`{}` is no address of a board", text.value),
            "scheme, host and where needed a port are wanted, and nothing after them",
        ),
        Some(address) if is_protected && !address.is_https => {
            wrong("the board is protected by TLS, but its address is not".to_owned(), "not https")
        }
        Some(address) if !is_protected && address.is_https => wrong(
            "the board's address is https, but nothing speaks TLS".to_owned(),
            "a certificate or `behind_proxy = true` is needed for this",
        ),
        Some(address) => Some(address),
    }
}

/// `[board]`.
pub(super) static BOARD: Shape = Shape {
    name: "[board]",
    keys: &[
        Key::required(
            "listen",
            Kind::Text,
            "\"127.0.0.1:8470\"",
            "where the board listens: an IP address and a port",
        ),
        Key::optional(
            "address",
            Kind::Text,
            "\"https://board.clinic.example\"",
            "what browsers call the board; it stands in sign-in links",
        ),
        Key::optional(
            "certificate",
            Kind::Path,
            "\"board-certificate.pem\"",
            "the board's certificate, in PEM",
        ),
        Key::optional("key", Kind::Path, "\"board-key.pem\"", "the key of the certificate, in PEM"),
        Key::optional(
            "behind_proxy",
            Kind::YesNo,
            "true",
            "whether a proxy of the clinic's own speaks TLS before the board",
        ),
    ],
};
