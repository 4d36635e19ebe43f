//! A database server: where it is, how it is reached, who we are there.
//!
//! Never here: where the password comes from.
//! Promises: nothing crosses a network in the clear or to a server that is not who it should be;
//! the password shows nowhere.

use std::fmt;
use std::net::IpAddr;
use std::path::Path;
use std::str::FromStr;
use std::sync::Arc;
use std::time::Duration;

use rustls_pki_types::CertificateDer;
use rustls_pki_types::pem::PemObject;
use tokio_postgres::Config;
use tokio_postgres::config::{Host, SslMode};
use tokio_rustls::rustls::{ClientConfig, RootCertStore, crypto::ring};

/// How long a connection may take to be made.
const PATIENCE: Duration = Duration::from_secs(10);
/// A network that is silent for this long with data under way counts as broken. Together with the
/// keepalives it is how soon a host that vanished is noticed.
const SILENCE: Duration = Duration::from_secs(10);
/// Between two probes of an idle connection.
const PROBE: Duration = Duration::from_secs(3);
/// Probes without an answer after which a connection counts as broken.
const PROBES: u32 = 3;

/// A database server.
#[derive(Clone)]
pub struct Server {
    pub(super) config: Arc<Config>,
    pub(super) tls: Arc<ClientConfig>,
}

/// What is wrong with a server's settings.
#[derive(Debug, thiserror::Error)]
pub enum BadServer {
    /// The address cannot be read.
    #[error("the address of the database cannot be read: {0}")]
    Address(String),
    /// The address holds the password.
    #[error("the address of the database holds a password")]
    Password,
    /// The certificates cannot be read.
    #[error("the certificate authority for the database cannot be read: {0}")]
    Authority(String),
}

impl Server {
    /// A server by its address, as PostgreSQL's programs take it (`host=… dbname=… user=…`), with
    /// the password beside it and, where it is not one that the public vouches for, the authority
    /// of its certificate in PEM.
    ///
    /// # Errors
    /// When one of them cannot be read, or the address holds a password.
    pub fn new(
        address: &str,
        password: Option<&str>,
        authority: Option<&Path>,
    ) -> Result<Self, BadServer> {
        let mut config = Config::from_str(address).map_err(|error| {
            let why = std::error::Error::source(&error).map(ToString::to_string);
            BadServer::Address(why.unwrap_or_else(|| error.to_string()))
        })?;
        if config.get_password().is_some() {
            return Err(BadServer::Password);
        }
        if let Some(password) = password {
            config.password(password);
        }
        if config.get_hosts().is_empty() && config.get_hostaddrs().is_empty() {
            return Err(BadServer::Address("it names no host".to_owned()));
        }
        if !is_here(&config) {
            config.ssl_mode(SslMode::Require);
        } else if config.get_ssl_mode() == SslMode::Prefer {
            // Nobody taps this machine's own line, and its certificate is commonly made by itself.
            config.ssl_mode(SslMode::Disable);
        }
        if config.get_application_name().is_none() {
            config.application_name(env!("CARGO_PKG_NAME"));
        }
        if config.get_connect_timeout().is_none() {
            config.connect_timeout(PATIENCE);
        }
        if config.get_tcp_user_timeout().is_none() {
            config.tcp_user_timeout(SILENCE);
        }
        config.keepalives(true);
        config.keepalives_idle(PROBE).keepalives_interval(PROBE).keepalives_retries(PROBES);
        let tls = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .expect("OK because ring has the default versions of TLS")
            .with_root_certificates(roots(authority)?)
            .with_no_client_auth();
        Ok(Self { config: Arc::new(config), tls: Arc::new(tls) })
    }

    /// The settings that the server is asked to hold its end of a connection to, in milliseconds
    /// and seconds: a process that vanished must not keep others waiting.
    pub(super) fn settings() -> String {
        let (idle, count, silence) = (PROBE.as_secs(), PROBES, SILENCE.as_millis());
        format!(
            "SET tcp_keepalives_idle = {idle}; SET tcp_keepalives_interval = {idle}; \
             SET tcp_keepalives_count = {count}; SET tcp_user_timeout = {silence};"
        )
    }
}

/// Tells the database and its hosts.
impl fmt::Display for Server {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = self.config.get_dbname().or(self.config.get_user()).unwrap_or("of this user");
        write!(f, "the PostgreSQL database {name}")?;
        for host in self.config.get_hosts() {
            match host {
                Host::Tcp(name) => write!(f, " on {name}")?,
                Host::Unix(folder) => write!(f, " at {}", folder.display())?,
            }
        }
        Ok(())
    }
}

/// Does not tell the password.
impl fmt::Debug for Server {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Server({self})")
    }
}

/// Whether nothing of the way to the server lies outside of this machine.
fn is_here(config: &Config) -> bool {
    let by_name = config.get_hosts().iter().all(|host| match host {
        Host::Unix(_) => true,
        Host::Tcp(name) => {
            name == "localhost" || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
        }
    });
    by_name && config.get_hostaddrs().iter().all(IpAddr::is_loopback)
}

fn roots(authority: Option<&Path>) -> Result<RootCertStore, BadServer> {
    let mut store = RootCertStore::empty();
    let Some(path) = authority else {
        store.extend(webpki_roots::TLS_SERVER_ROOTS.iter().cloned());
        return Ok(store);
    };
    let refused = |why: String| BadServer::Authority(format!("{}: {why}", path.display()));
    let certificates =
        CertificateDer::pem_file_iter(path).map_err(|error| refused(error.to_string()))?;
    for certificate in certificates {
        let certificate = certificate.map_err(|error| refused(error.to_string()))?;
        store.add(certificate).map_err(|error| refused(error.to_string()))?;
    }
    if store.is_empty() {
        return Err(refused("there is no certificate in it".to_owned()));
    }
    Ok(store)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_in_the_address_is_refused_and_never_shown() {
        let refused = Server::new("host=db.example password=hush", None, None).unwrap_err();
        assert!(matches!(refused, BadServer::Password));
        assert!(!refused.to_string().contains("hush"));
        let server = Server::new("host=db.example dbname=clinic", Some("hush"), None).unwrap();
        assert_eq!(format!("{server:?}"), "Server(the PostgreSQL database clinic on db.example)");
    }

    #[test]
    fn a_server_elsewhere_is_reached_by_tls_alone_whatever_the_address_says() {
        let mode = |address| Server::new(address, None, None).unwrap().config.get_ssl_mode();
        assert_eq!(mode("host=db.example sslmode=disable"), SslMode::Require);
        assert_eq!(mode("host=localhost hostaddr=192.0.2.1"), SslMode::Require);
        assert_eq!(mode("host=127.0.0.1,db.example"), SslMode::Require);
        assert_eq!(mode("host=localhost sslmode=require"), SslMode::Require);
        assert_eq!(mode("host=/run/postgresql"), SslMode::Disable);
    }

    #[test]
    fn an_address_that_cannot_be_read_says_why() {
        let refused = Server::new("hosst=db.example", None, None).unwrap_err().to_string();
        assert!(refused.contains("hosst"), "{refused}");
        let nowhere = Server::new("dbname=clinic", None, None).unwrap_err().to_string();
        assert!(nowhere.ends_with("it names no host"), "{nowhere}");
    }
}
