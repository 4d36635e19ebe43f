//! `fadewatch export`: everything that is kept of one client and the people around, for the person
//! whose data it is.
//!
//! Never here: erasing anything.
//! Promises: all that `forget` would erase, and the whole record, as one JSON object.

use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::journal_lines::{self, Line};
use super::moments::stamp;
use super::paper;
use super::setting::{CommandError, ConfigOption};
use super::who;
use crate::care::fitting::Fitting;
use crate::store::View;

/// What `export` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  umask 077; fadewatch export A7 > A7.json")]
pub(super) struct ExportArgs {
    /// The client's reference.
    client: String,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct Exported {
    client: String,
    call_name: Option<String>,
    contacts: Vec<Contact>,
    fittings: Vec<Fitting>,
    record: Vec<Line>,
    mails: Vec<Mail>,
}

#[derive(Serialize)]
struct Contact {
    id: String,
    name: String,
    mail: String,
    language: String,
}

#[derive(Serialize)]
struct Mail {
    at: String,
    outgoing: bool,
    /// The mail as it was sent or came.
    mail: String,
}

impl ExportArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (_, store) = self.config.open_to_read()?;
        let exported = store.read_blocking(|view| exported(view, &self.client))?;
        paper::print_json(&exported)?;
        Ok(Exit::Done.into())
    }
}

fn exported(view: &View<'_>, client: &str) -> Result<Exported, CommandError> {
    let follow_up = who::client(view, client)?;
    let terms = view.load(follow_up)?.state.terms;
    let mut contacts = Vec::new();
    for id in &terms.contacts {
        if let Some(person) = view.contact(follow_up, id)? {
            let (name, mail, language) = (person.name, person.mail, person.language);
            contacts.push(Contact { id: id.to_string(), name, mail, language });
        }
    }
    let fittings = view.fittings(follow_up)?.into_iter().map(|kept| kept.fitting).collect();
    let mails = view.kept_mails(follow_up)?.into_iter().map(|kept| Mail {
        at: stamp(&terms.zone, kept.at),
        outgoing: kept.is_outgoing,
        mail: String::from_utf8_lossy(&kept.raw).into_owned(),
    });
    Ok(Exported {
        client: client.to_owned(),
        call_name: view.call_name(follow_up)?,
        contacts,
        fittings,
        record: journal_lines::newest(view, follow_up, &terms.zone, u64::MAX)?,
        mails: mails.collect(),
    })
}
