//! Four mails to clinicians, laid out as files to look at: page, pictures, plain text, the mail
//! itself.
//!
//! Never here: making mails. Promises: every file is taken from a mail that the service sent; the
//! page is the mail's own, with its pictures beside it.

use std::fs;
use std::path::{Path, PathBuf};

use mail_parser::{Message, MessageParser, MimeHeaders as _};

use super::error::DemoError;
use super::watcher::Followed;
use crate::follow_up::Event;
use crate::follow_up::event::{AlertSending, StopReason, TellReason};
use crate::store::{FollowUpId, JournalSeq, Store, StoreError};

/// A mail to show: the name of its files, and the entry that it goes back to.
struct Shown {
    name: &'static str,
    is_it: fn(&Event, Option<StopReason>) -> bool,
}

/// What is shown, in this order.
const SHOWN: [Shown; 4] = [
    Shown {
        name: "persisting-mark",
        is_it: |event, why| raised(event, why, StopReason::Persisting),
    },
    Shown { name: "alarming-sign", is_it: |event, why| raised(event, why, StopReason::Alarming) },
    Shown {
        name: "recheck-unreported",
        is_it: |event, why| raised(event, why, StopReason::RecheckUnreported),
    },
    Shown {
        name: "rising-trend",
        is_it: |event, _| matches!(event, Event::ClinicTold { why: TellReason::Rising, .. }),
    },
];

/// Lays the mails out in a folder, made where it is missing; returns it.
pub(super) fn lay_out(
    folder: &Path,
    store: &Store,
    clients: &[Followed],
) -> Result<PathBuf, DemoError> {
    let album = folder.join("alerts");
    fs::create_dir_all(&album).map_err(refused(&album))?;
    for shown in &SHOWN {
        let follow_ups = clients.iter().map(|client| client.follow_up);
        let raw = store.read_blocking(|view| -> Result<_, StoreError> {
            for follow_up in follow_ups {
                let Some(cause) = entry(&view.journal_of(follow_up)?, shown) else { continue };
                return mail(view, follow_up, cause);
            }
            Ok(None)
        })?;
        let Some(raw) = raw else { continue };
        write(&album, &format!("{}.eml", shown.name), &raw)?;
        if let Some(message) = MessageParser::default().parse(&raw) {
            open(&album, shown.name, &message)?;
        }
    }
    Ok(album)
}

/// An alert that goes out for the first time, after a stop for this reason.
fn raised(event: &Event, why: Option<StopReason>, wanted: StopReason) -> bool {
    why == Some(wanted) && matches!(event, Event::Alerted { sending: AlertSending::Raised, .. })
}

/// The first entry of a journal that a mail to show goes back to.
fn entry(journal: &[crate::store::JournalLine], shown: &Shown) -> Option<JournalSeq> {
    let mut why = None;
    for line in journal {
        if let Event::Stopped { why: reason, .. } = &line.entry.event {
            why = Some(*reason);
        }
        if (shown.is_it)(&line.entry.event, why) {
            return Some(line.seq);
        }
    }
    None
}

fn mail(
    view: &crate::store::View<'_>,
    follow_up: FollowUpId,
    cause: JournalSeq,
) -> Result<Option<Vec<u8>>, StoreError> {
    let mails = view.newest_mails(u32::MAX)?;
    let is_it = |mail: &&crate::store::MailRecord| {
        mail.follow_up == Some(follow_up) && mail.cause == Some(cause)
    };
    match mails.iter().find(is_it) {
        Some(mail) => view.raw_mail(mail.id),
        None => Ok(None),
    }
}

/// The mail's page, text and pictures as files of their own.
fn open(album: &Path, name: &str, message: &Message<'_>) -> Result<(), DemoError> {
    let mut html = message.body_html(0).unwrap_or_default().into_owned();
    for part in message.attachments() {
        let Some(id) = part.content_id() else { continue };
        let what = id.split('-').next().unwrap_or("picture");
        let file = format!("{name}-{what}.png");
        html = html.replace(&format!("cid:{id}"), &file);
        write(album, &file, part.contents())?;
    }
    let subject = message.subject().unwrap_or_default();
    let text = message.body_text(0).unwrap_or_default();
    write(album, &format!("{name}.html"), html.as_bytes())?;
    write(album, &format!("{name}.txt"), format!("Subject: {subject}\n\n{text}").as_bytes())
}

fn write(album: &Path, name: &str, bytes: &[u8]) -> Result<(), DemoError> {
    let path = album.join(name);
    fs::write(&path, bytes).map_err(refused(&path))
}

fn refused(path: &Path) -> impl FnOnce(std::io::Error) -> DemoError + use<> {
    let path = path.to_owned();
    move |source| DemoError::Folder { path, source }
}
