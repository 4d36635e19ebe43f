//! The lines to the mail servers, from the clinic file: transports set up.
//!
//! Never here: using them; where secrets come from (`secrets`).
//! Promises: a secret goes from its source straight into the transport; none is logged.

use super::error::ServiceError;
use super::secrets::{self, TokenKeeper};
use crate::config::{MailIn, MailOut, MailSettings, Security, Server};
use crate::follow_up::Instant;
use crate::post::inbox::{ImapInbox, ImapSettings, Inbox, MaildirInbox};
use crate::post::{self, Credentials, MaildirOutlet, Outlet, SmtpOutlet, SmtpSettings, Trust};

/// The name under which the store keeps how far a mailbox was read.
pub fn mailbox_name(incoming: &MailIn) -> String {
    match incoming {
        MailIn::Imap { server, folder } => {
            let user = server.login.as_ref().map_or("", |login| login.user.as_str());
            format!("imap:{user}@{}:{}/{folder}", server.host, server.port)
        }
        MailIn::Maildir(_) => "maildir".to_owned(),
    }
}

/// The way out for mail; `whose` is the table that names it. A keeper comes with it where the login
/// is a token that lapses.
///
/// # Errors
/// When the secret cannot be had, or the settings cannot be used.
pub fn outlet(
    out: &MailOut,
    whose: &'static str,
) -> Result<(Outlet, Option<TokenKeeper>), ServiceError> {
    match out {
        MailOut::Maildir(folder) => Ok((Outlet::Maildir(MaildirOutlet::new(folder)?), None)),
        MailOut::Smtp(server) => {
            let mut settings =
                SmtpSettings::new(&server.host, server.port, security(server.security));
            settings.trust = trust(server);
            let (credentials, keeper) = credentials(server, whose)?;
            settings.credentials = credentials;
            Ok((Outlet::Smtp(SmtpOutlet::new(settings)?), keeper))
        }
    }
}

/// The way in for mail. Mail older than `not_before` is left alone when the mailbox is read for
/// the first time. A keeper comes with it where the login is a token that lapses.
///
/// # Errors
/// When the secret cannot be had, or the settings cannot be used.
pub fn inbox(
    mail: &MailSettings,
    not_before: Instant,
) -> Result<(Inbox, Option<TokenKeeper>), ServiceError> {
    match &mail.incoming {
        MailIn::Maildir(folder) => Ok((Inbox::Maildir(MaildirInbox::new(folder)?), None)),
        MailIn::Imap { server, folder } => {
            let (credentials, keeper) = credentials(server, "mail.in")?;
            let credentials = credentials.ok_or_else(|| {
                let what = "mail.in needs `user` and a password to read a mailbox".to_owned();
                ServiceError::Secret { what }
            })?;
            let mut settings = ImapSettings::new(
                &server.host,
                server.port,
                security(server.security),
                credentials,
            );
            settings.trust = trust(server);
            settings.folder.clone_from(folder);
            settings.not_before = Some(not_before);
            Ok((Inbox::Imap(ImapInbox::new(settings)?), keeper))
        }
    }
}

fn security(security: Security) -> post::Security {
    match security {
        Security::Starttls => post::Security::StartTls,
        Security::Tls => post::Security::ImplicitTls,
        Security::PlainLoopback => post::Security::PlainLoopback,
    }
}

fn trust(server: &Server) -> Trust {
    server.ca_file.as_ref().map_or(Trust::Public, |file| Trust::Only(file.clone()))
}

fn credentials(
    server: &Server,
    whose: &'static str,
) -> Result<(Option<Credentials>, Option<TokenKeeper>), ServiceError> {
    let Some(login) = &server.login else { return Ok((None, None)) };
    let (secret, keeper) = secrets::fetch(&login.secret, whose)?;
    Ok((Some(Credentials { user: login.user.clone(), secret }), keeper))
}
