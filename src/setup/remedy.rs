//! What to do about a mail server that does not do what was asked of it.
//!
//! Never here: talking to it.
//! Promises: each remedy is something that the clinic, or whoever runs its mail server, can do.

use crate::config::{Security, Server};
use crate::post::{Outage, Outcome, Refusal, Trouble};

/// What went wrong with a server, and what to do about it.
pub(super) struct Advice {
    /// What went wrong, with the server's words.
    pub(super) fact: String,
    /// What to do.
    pub(super) remedy: String,
}

/// About mail that could not be handed over.
pub(super) fn about_sending(outcome: &Outcome, server: Option<&Server>) -> Advice {
    match outcome {
        Outcome::Accepted { .. } => Advice { fact: "taken".to_owned(), remedy: String::new() },
        Outcome::Unreachable { trouble, why } => about(*trouble, why, server, "mail.out"),
        Outcome::InDoubt { why } => Advice {
            fact: format!("handed over, but no answer came: {why}"),
            remedy: "try again; if it stays so, ask whoever runs the mail server".to_owned(),
        },
        Outcome::Refused(refusal) => about_refusal(refusal),
    }
}

fn about_refusal(refusal: &Refusal) -> Advice {
    let fact = format!("the server says no: {} {}", refusal.code, refusal.text);
    let remedy = match refusal.code {
        // RFC 4954: the credentials are wrong, or the mechanism too weak.
        534 | 535 | 538 => LOGIN.to_owned(),
        530 => "the server wants a login: name `user` and `password_file` in [mail.out]".to_owned(),
        _ if refusal.recipient_at_fault => PLUS.to_owned(),
        550..=554 => "the server does not take mail from this sender: `from` in [mail] must be an \
                      address that this user may send as"
            .to_owned(),
        _ => "try again later; if it stays so, ask whoever runs the mail server".to_owned(),
    };
    Advice { fact, remedy }
}

/// About a mailbox that could not be read.
pub(super) fn about_mailbox(outage: &Outage, server: Option<&Server>) -> Advice {
    about(outage.trouble, &outage.why, server, "mail.in")
}

fn about(trouble: Trouble, why: &str, server: Option<&Server>, table: &str) -> Advice {
    let host = server.map_or("the folder", |server| server.host.as_str());
    let port = server.map_or(0, |server| server.port);
    let (fact, remedy) = match trouble {
        Trouble::NameLookup => (
            format!("the name {host} is not found"),
            format!("check `host` in [{table}] for a slip, and that this machine has a network"),
        ),
        Trouble::NotLoopback => {
            (why.to_owned(), format!("write `security = \"tls\"` or \"starttls\" in [{table}]"))
        }
        Trouble::Connect => (
            format!("{host} is found, but nobody answers at port {port}"),
            format!(
                "check `port` in [{table}] (587 or 465 to send, 993 or 143 to read), and that no \
                 firewall stands in between"
            ),
        ),
        Trouble::Tls => about_tls(why, server, table),
        Trouble::Login => ("the login is refused".to_owned(), LOGIN.to_owned()),
        Trouble::Folder => (
            format!("the mail folder cannot be opened: {why}"),
            format!("check `folder` in [{table}]; it is nearly always \"INBOX\""),
        ),
        Trouble::Lost => {
            (format!("{host} answers, then falls silent"), about_silence(server, table))
        }
        Trouble::Protocol | Trouble::NotTaken => (
            format!("{host} does not talk like a mail server: {why}"),
            format!("check `port` and `security` in [{table}]: another service may answer there"),
        ),
        Trouble::Disk => (
            format!("the folder cannot be used: {why}"),
            format!("check `maildir` in [{table}], and that this user may read and write it"),
        ),
    };
    Advice { fact, remedy }
}

/// The words are those of the TLS library, whose names for certificate errors are stable.
fn about_tls(why: &str, server: Option<&Server>, table: &str) -> (String, String) {
    let host = server.map_or("", |server| server.host.as_str());
    let has = |word: &str| why.contains(word);
    if has("UnknownIssuer") || has("CaUsedAsEndEntity") || has("BadSignature") {
        let ca = if server.is_some_and(|server| server.ca_file.is_some()) {
            format!("`ca_file` in [{table}] is another authority than the one that signed it")
        } else {
            format!(
                "if the clinic has a certificate authority of its own, name its file: `ca_file` \
                 in [{table}]; else somebody may sit in between: ask whoever runs the server"
            )
        };
        return (format!("the certificate of {host} is signed by nobody that is trusted"), ca);
    }
    if has("NotValidForName") {
        return (
            format!("the certificate is not for the name {host}"),
            format!("write the name that stands in the certificate as `host` in [{table}]"),
        );
    }
    if has("Expired") || has("NotValidYet") {
        return (
            format!("the certificate of {host} is out of date, or this machine's clock is wrong"),
            "check this machine's date first; if it is right, whoever runs the server has to renew \
             the certificate"
                .to_owned(),
        );
    }
    (
        format!("no protected connection to {host}: {why}"),
        format!(
            "ports 465 and 993 want `security = \"tls\"`, ports 587 and 143 `security = \
             \"starttls\"` in [{table}]"
        ),
    )
}

fn about_silence(server: Option<&Server>, table: &str) -> String {
    match server.map(|server| server.security) {
        Some(Security::Starttls) => {
            format!("the server may want TLS from the start: try `security = \"tls\"` in [{table}]")
        }
        Some(Security::Tls | Security::PlainLoopback) => {
            format!("the server may want STARTTLS: try `security = \"starttls\"` in [{table}]")
        }
        None => "try again; if it stays so, ask whoever runs the mail server".to_owned(),
    }
}

/// What helps where what stands after the plus sign is not kept.
pub(super) const PLUS: &str = "ask whoever runs the mail server to keep what stands after a plus \
    sign in an address (plus addressing, also called subaddressing, RFC 5233). Where that cannot be \
    had: let all mail to a domain of its own, such as checks.clinic.example, go to this mailbox (a \
    catch-all), and write an address there as `reply_to` in [mail]";

const LOGIN: &str = "check `user` and the first line of the password file. Many servers want the \
    whole address as user, and some a password made for programs only (an app password)";
