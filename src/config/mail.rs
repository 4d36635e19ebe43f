//! The clinic's mail account: where mail goes out, where it comes in.
//!
//! Never here: passwords themselves; talking to a server.
//! Promises: a plain connection is only ever to this machine; a login has one place to find its
//! password.

use std::net::IpAddr;
use std::path::PathBuf;

use super::login::{
    Login, PASSWORD_COMMAND, PASSWORD_CREDENTIAL, PASSWORD_FILE, SECRET_KEYS, TOKEN_COMMAND, USER,
    login,
};
use super::person::MailAddress;
use super::shape::{Key, Kind, Shape};
use super::table::Table;
use crate::care::Minutes;

/// All of `[mail]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailSettings {
    /// The address that mail is sent from.
    pub from: MailAddress,
    /// The address that replies go to; a token is added to its local part after a plus sign.
    pub reply_to: MailAddress,
    /// How long a refused mail is tried again until the contact counts as unreachable (R27).
    pub give_up_after: Minutes,
    /// How mail goes out.
    pub out: MailOut,
    /// How mail comes in.
    pub incoming: MailIn,
    /// The name by which the receiving server signs its results on senders (RFC 8601); replies
    /// that it does not vouch for are set aside (R29). None where there is no such server.
    pub authserv_id: Option<String>,
}

/// How mail goes out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MailOut {
    /// By a mail server.
    Smtp(Server),
    /// Into a maildir, where there is no server.
    Maildir(PathBuf),
}

/// How mail comes in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MailIn {
    /// From a folder on a mail server.
    Imap {
        /// The server.
        server: Server,
        /// The folder.
        folder: String,
    },
    /// From a maildir.
    Maildir(PathBuf),
}

/// A mail server and how to reach it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Server {
    /// Its name, which its certificate must carry, or its address.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is protected.
    pub security: Security,
    /// The clinic's own certificate authority, in PEM; without it the public ones are trusted.
    pub ca_file: Option<PathBuf>,
    /// How to log in, where the server asks for it.
    pub login: Option<Login>,
}

/// How a connection is protected.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Security {
    /// Begins plain and must turn to TLS before anything else.
    Starttls,
    /// TLS from the first byte.
    Tls,
    /// Not at all; only to this machine itself.
    PlainLoopback,
}

/// Reads `[mail]`.
pub(super) fn mail(table: &Table<'_>) -> Option<MailSettings> {
    let from = table.mail("from");
    let reply_to = if table.has("reply_to") { table.mail("reply_to") } else { from.clone() };
    let reply_to = reply_to.and_then(|address| {
        if !address.value.as_str().split('@').next().unwrap_or_default().contains('+') {
            return Some(address);
        }
        table
            .report
            .error(address.span, "the address for replies must have no `+`".to_owned())
            .label("a `+` before the `@`")
            .why("each request adds a token of its own there, after a `+`, to know its answer by")
            .help("write the address without the part from `+` to `@`");
        None
    });
    let give_up_after = table.duration("give_up_after");
    let authserv_id = if table.has("authserv_id") {
        table.text("authserv_id").map(|id| Some(id.value.to_owned()))
    } else {
        Some(None)
    };
    let out = table.table("out").and_then(|out| mail_out(&out));
    let incoming = table.table("in").and_then(|incoming| mail_in(&incoming));
    Some(MailSettings {
        from: from?.value,
        reply_to: reply_to?.value,
        give_up_after: give_up_after?.value,
        out: out?,
        incoming: incoming?,
        authserv_id: authserv_id?,
    })
}

pub(super) fn mail_out(table: &Table<'_>) -> Option<MailOut> {
    match way(table)? {
        Way::Maildir(folder) => Some(MailOut::Maildir(folder)),
        Way::Server => server(table, [587, 465, 25]).map(MailOut::Smtp),
    }
}

fn mail_in(table: &Table<'_>) -> Option<MailIn> {
    match way(table)? {
        Way::Maildir(folder) => Some(MailIn::Maildir(folder)),
        Way::Server => {
            let folder = if table.has("folder") {
                table.text("folder").map(|folder| folder.value.to_owned())
            } else {
                Some("INBOX".to_owned())
            };
            let server = server(table, [143, 993, 143]);
            Some(MailIn::Imap { server: server?, folder: folder? })
        }
    }
}

enum Way {
    Maildir(PathBuf),
    Server,
}

/// A maildir or a server: exactly one of the two.
fn way(table: &Table<'_>) -> Option<Way> {
    match (table.has("maildir"), table.has("host")) {
        (false, true) => Some(Way::Server),
        (true, false) => {
            for name in ["port", "security", "ca_file", "user"].iter().chain(&SECRET_KEYS) {
                if table.has(name) {
                    table
                        .report
                        .warning(
                            table.key_span(name),
                            format!("`{name}` means nothing to a maildir"),
                        )
                        .label("not used");
                }
            }
            table.path_at("maildir").map(Way::Maildir)
        }
        (true, true) => {
            table
                .report
                .error(table.key_span("maildir"), "a mail server or a maildir, not both".to_owned())
                .label("a maildir")
                .beside(table.key_span("host"), "a mail server")
                .help("take one of the two out");
            None
        }
        (false, false) => {
            table
                .report
                .error(table.span.clone(), "neither a mail server nor a maildir".to_owned())
                .label("`host` or `maildir` is needed")
                .help(
                    "name the server of the clinic's mail account:\n\
                     host = \"mail.clinic.example\"\nsecurity = \"starttls\"",
                )
                .for_absence();
            None
        }
    }
}

/// Reads a server; `ports` are the usual ones for STARTTLS, TLS and plain.
fn server(table: &Table<'_>, ports: [u16; 3]) -> Option<Server> {
    let host = table.text("host");
    let security = security(table);
    let port = if table.has("port") {
        table.count("port").map(|port| port.value as u16)
    } else {
        let [starttls, tls, plain] = ports;
        security.map(|security| match security {
            Security::Starttls => starttls,
            Security::Tls => tls,
            Security::PlainLoopback => plain,
        })
    };
    let ca_file =
        if table.has("ca_file") { table.path_at("ca_file").map(Some) } else { Some(None) };
    let login = login(table);
    let host = host?;
    if security == Some(Security::PlainLoopback) && !is_loopback(host.value) {
        table
            .report
            .error(table.value_span("security"), "a plain connection to another machine".to_owned())
            .label("only to this machine itself")
            .beside(host.span.clone(), "not this machine")
            .why("what is known of a client's skin would cross the network for all to read")
            .help("write \"starttls\" or \"tls\", whichever the server offers");
        return None;
    }
    Some(Server {
        host: host.value.to_owned(),
        port: port?,
        security: security?,
        ca_file: ca_file?,
        login: login?,
    })
}

fn security(table: &Table<'_>) -> Option<Security> {
    if !table.has("security") {
        table
            .report
            .error(table.span.clone(), "the mail server lacks `security`".to_owned())
            .label("belongs in this table")
            .help("add `security = \"starttls\"` or `security = \"tls\"`")
            .for_absence();
        return None;
    }
    Some(match table.word("security")?.value {
        "starttls" => Security::Starttls,
        "tls" => Security::Tls,
        _ => Security::PlainLoopback,
    })
}

fn is_loopback(host: &str) -> bool {
    host.eq_ignore_ascii_case("localhost")
        || host.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

const HOST: Key = Key::optional(
    "host",
    Kind::Text,
    "\"mail.clinic.example\"",
    "the mail server; its certificate must carry this name",
);
const PORT: Key = Key::optional("port", Kind::Count(1, 65535), "587", "the server's port");
const SECURITY: Key = Key::optional(
    "security",
    Kind::Word(&["starttls", "tls", "plain-loopback"]),
    "\"starttls\"",
    "how the connection is protected",
);
const CA_FILE: Key = Key::optional(
    "ca_file",
    Kind::Path,
    "\"ca.pem\"",
    "the clinic's own certificate authority, where it has one",
);
/// `[mail]`.
pub(super) static MAIL: Shape = Shape {
    name: "[mail]",
    keys: &[
        Key::required("from", Kind::Mail, "\"checks@clinic.example\"", "the sender of all mail"),
        Key::optional(
            "reply_to",
            Kind::Mail,
            "\"checks@clinic.example\"",
            "where replies go; the same as `from` where it is left out",
        ),
        Key::required(
            "give_up_after",
            Kind::Wait,
            "\"4h\"",
            "how long a refused mail is tried until the contact counts as unreachable (R27)",
        ),
        Key::optional(
            "authserv_id",
            Kind::Text,
            "\"mx.clinic.example\"",
            "the name in the Authentication-Results that your own receiving server adds to every \
             mail; replies that it does not vouch for are set aside and shown (R29)",
        ),
        Key::required("out", Kind::Table(&MAIL_OUT), "[mail.out]", "how mail goes out"),
        Key::required("in", Kind::Table(&MAIL_IN), "[mail.in]", "how mail comes in"),
    ],
};

pub(super) static MAIL_OUT: Shape = Shape {
    name: "[mail.out]",
    keys: &[
        HOST,
        PORT,
        SECURITY,
        CA_FILE,
        USER,
        PASSWORD_FILE,
        PASSWORD_COMMAND,
        PASSWORD_CREDENTIAL,
        TOKEN_COMMAND,
        Key::optional("maildir", Kind::Path, "\"mail/out\"", "a folder instead of a server"),
    ],
};

static MAIL_IN: Shape = Shape {
    name: "[mail.in]",
    keys: &[
        HOST,
        PORT,
        SECURITY,
        CA_FILE,
        USER,
        PASSWORD_FILE,
        PASSWORD_COMMAND,
        PASSWORD_CREDENTIAL,
        TOKEN_COMMAND,
        Key::optional("folder", Kind::Text, "\"INBOX\"", "the folder on the server"),
        Key::optional("maildir", Kind::Path, "\"mail/in\"", "a folder instead of a server"),
    ],
};
