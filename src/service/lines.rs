//! The lines to the mail servers, from the clinic file: secrets fetched, transports set up.
//!
//! Never here: using them.
//! Promises: a secret goes from its file or command straight into the transport; none is logged.

use std::path::Path;
use std::process::Command;

use super::error::ServiceError;
use crate::config::{MailIn, MailOut, MailSettings, PasswordSource, Security, Server};
use crate::follow_up::Instant;
use crate::post::inbox::{ImapInbox, ImapSettings, Inbox, MaildirInbox};
use crate::post::{self, Credentials, MaildirOutlet, Outlet, Secret, SecretText, SmtpOutlet};
use crate::post::{SmtpSettings, Trust};

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

/// The way out for mail.
///
/// # Errors
/// When the secret cannot be had, or the settings cannot be used.
pub fn outlet(mail: &MailSettings) -> Result<Outlet, ServiceError> {
    match &mail.out {
        MailOut::Maildir(folder) => Ok(Outlet::Maildir(MaildirOutlet::new(folder)?)),
        MailOut::Smtp(server) => {
            let mut settings =
                SmtpSettings::new(&server.host, server.port, security(server.security));
            settings.trust = trust(server);
            settings.credentials = credentials(server, "mail.out")?;
            Ok(Outlet::Smtp(SmtpOutlet::new(settings)?))
        }
    }
}

/// The way in for mail. Mail older than `not_before` is left alone when the mailbox is read for
/// the first time.
///
/// # Errors
/// When the secret cannot be had, or the settings cannot be used.
pub fn inbox(mail: &MailSettings, not_before: Instant) -> Result<Inbox, ServiceError> {
    match &mail.incoming {
        MailIn::Maildir(folder) => Ok(Inbox::Maildir(MaildirInbox::new(folder)?)),
        MailIn::Imap { server, folder } => {
            let credentials = credentials(server, "mail.in")?.ok_or_else(|| {
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
            Ok(Inbox::Imap(ImapInbox::new(settings)?))
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

fn credentials(server: &Server, whose: &str) -> Result<Option<Credentials>, ServiceError> {
    let Some(login) = &server.login else { return Ok(None) };
    let password = match &login.password {
        PasswordSource::File(path) => from_file(path, whose)?,
        PasswordSource::Command(command) => from_command(command, whose)?,
    };
    let secret = Secret::Password(SecretText::new(password));
    Ok(Some(Credentials { user: login.user.clone(), secret }))
}

fn from_file(path: &Path, whose: &str) -> Result<String, ServiceError> {
    let text = std::fs::read_to_string(path).map_err(|error| ServiceError::Secret {
        what: format!(
            "the password file of {whose} cannot be read: {}: {error}; name a file that this user \
             may read",
            path.display()
        ),
    })?;
    first_line(&text, whose, "the password file")
}

fn from_command(command: &[String], whose: &str) -> Result<String, ServiceError> {
    let refused = |why: String| ServiceError::Secret {
        what: format!("the password command of {whose} failed: {why}"),
    };
    let (program, arguments) =
        command.split_first().ok_or_else(|| refused("it names no program".to_owned()))?;
    let output = Command::new(program)
        .args(arguments)
        .output()
        .map_err(|error| refused(format!("{program}: {error}")))?;
    if !output.status.success() {
        return Err(refused(format!("{program} ended with {}", output.status)));
    }
    first_line(&String::from_utf8_lossy(&output.stdout), whose, "the password command")
}

fn first_line(text: &str, whose: &str, source: &str) -> Result<String, ServiceError> {
    match text.lines().next().map(str::trim_end).filter(|line| !line.is_empty()) {
        Some(line) => Ok(line.to_owned()),
        None => {
            Err(ServiceError::Secret { what: format!("{source} of {whose} gives an empty line") })
        }
    }
}
