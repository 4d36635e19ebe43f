//! The mailbox of one person, as a mail program reads it.
//!
//! Never here: what is answered.
//! Promises: each mail is read once, and moved to the folder of the mails that were read.

use std::fs;
use std::io;
use std::path::PathBuf;

use chrono::DateTime;
use mail_parser::{Address, Message, MessageParser};

use crate::follow_up::Instant;

/// A maildir.
pub(super) struct PersonInbox {
    pub(super) folder: PathBuf,
}

/// A mail as its reader sees it.
#[derive(Clone, Debug)]
pub(super) struct Mail {
    pub(super) subject: String,
    /// The name that it comes from.
    pub(super) from_name: String,
    /// Where an answer goes.
    pub(super) answer_to: String,
    pub(super) message_id: String,
    pub(super) sent_at: Instant,
    pub(super) references: Vec<String>,
    pub(super) text: String,
    /// The buttons: what they say, and the mail that a tap makes ready.
    pub(super) buttons: Vec<Button>,
}

/// A one-tap answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Button {
    pub(super) label: String,
    pub(super) to: String,
    pub(super) subject: String,
    pub(super) body: String,
}

impl PersonInbox {
    /// Whether there is unread mail.
    pub(super) fn has_unread(&self) -> io::Result<bool> {
        match fs::read_dir(self.folder.join("new")) {
            Ok(mut entries) => Ok(entries.next().transpose()?.is_some()),
            // The folder comes with the first mail.
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// Reads what is unread, oldest first.
    pub(super) fn read(&self) -> io::Result<Vec<Mail>> {
        if !self.has_unread()? {
            return Ok(Vec::new());
        }
        let new = self.folder.join("new");
        let mut names = Vec::new();
        for entry in fs::read_dir(&new)? {
            names.push(entry?.file_name());
        }
        names.sort();
        let mut mails = Vec::new();
        for name in names {
            let raw = fs::read(new.join(&name))?;
            mails.extend(opened(&raw));
            let mut seen = name.clone();
            seen.push(":2,S");
            fs::rename(new.join(&name), self.folder.join("cur").join(seen))?;
        }
        Ok(mails)
    }
}

fn opened(raw: &[u8]) -> Option<Mail> {
    let message = MessageParser::default().parse(raw)?;
    let from = message.from()?.first()?;
    let html = message.body_html(0).unwrap_or_default();
    Some(Mail {
        subject: message.subject()?.to_owned(),
        from_name: from.name.as_deref().unwrap_or_default().to_owned(),
        answer_to: answer_to(&message)?,
        message_id: message.message_id()?.to_owned(),
        sent_at: DateTime::from_timestamp(message.date()?.to_timestamp(), 0)?,
        references: message
            .references()
            .as_text_list()
            .unwrap_or_default()
            .iter()
            .map(ToString::to_string)
            .collect(),
        text: message.body_text(0)?.into_owned(),
        buttons: html.split("<a href=\"").skip(1).filter_map(button).collect(),
    })
}

fn answer_to(message: &Message<'_>) -> Option<String> {
    let first =
        |address: Option<&Address<'_>>| address?.first()?.address.as_deref().map(str::to_owned);
    first(message.reply_to()).or_else(|| first(message.from()))
}

/// The button that an anchor is, from its link on.
fn button(anchor: &str) -> Option<Button> {
    let (link, rest) = anchor.split_once('"')?;
    let link = plain(link);
    let (to, query) = link.strip_prefix("mailto:")?.split_once('?')?;
    let field = |name: &str| {
        let fields = query.split('&').filter_map(|field| field.split_once('='));
        fields.into_iter().find(|(key, _)| *key == name).map(|(_, value)| percent_decoded(value))
    };
    let (_, shown) = rest.split_once('>')?;
    let label = shown.split('<').next().unwrap_or_default();
    Some(Button {
        label: plain(label),
        to: percent_decoded(to),
        subject: field("subject")?,
        body: field("body")?,
    })
}

fn plain(html: &str) -> String {
    let named = html.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
    let mut parts = named.split("&#");
    let mut text = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let letter = part
            .split_once(';')
            .and_then(|(number, rest)| Some((number.parse().ok().and_then(char::from_u32)?, rest)));
        match letter {
            Some((letter, rest)) => {
                text.push(letter);
                text.push_str(rest);
            }
            None => text.extend(["&#", part]),
        }
    }
    text.replace("&amp;", "&")
}

/// Undoes percent-encoding; what is no code stays as it stands.
fn percent_decoded(text: &str) -> String {
    let mut out = Vec::with_capacity(text.len());
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        let code = text.get(at + 1..at + 3).and_then(|hex| u8::from_str_radix(hex, 16).ok());
        match code.filter(|_| bytes[at] == b'%') {
            Some(byte) => {
                out.push(byte);
                at += 3;
            }
            None => {
                out.push(bytes[at]);
                at += 1;
            }
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_button_is_read_as_a_mail_program_would_open_it() {
        let html = "mailto:checks%2Btok@x.example?subject=Re%3A%20A7&amp;body=No%20marks%C2%A0.\" \
                    style=\"x\">No marks &amp; f&#252;r<br><span>you looked</span></a>";
        let button = button(html).unwrap();
        assert_eq!(button.to, "checks+tok@x.example");
        assert_eq!(button.subject, "Re: A7");
        assert_eq!(button.body, "No marks\u{a0}.");
        assert_eq!(button.label, "No marks & für");
    }

    #[test]
    fn what_is_no_percent_code_stays() {
        assert_eq!(percent_decoded("100% é%zz%41"), "100% é%zzA");
    }
}
