//! Composes a mail: from a draft to the bytes that are stored and sent.
//!
//! Never here: wording, clocks, randomness.
//! Promises: the same draft gives the same bytes; nothing in a draft can add a header line; every
//! mail says that a machine wrote it (RFC 3834).

mod draft;
mod parts;

use lettre::Message;
use lettre::address::Envelope;
use lettre::message::header::{HeaderName, HeaderValue};

pub use draft::{Attachment, ComposeError, Draft, InlineImage};

use super::address::Mailbox;

/// Composes the mail.
///
/// The bytes are ASCII with CRLF line ends, at most 998 bytes a line: any server takes them.
///
/// # Errors
/// When a value holds a control character, an id is not of the form `<left@right>`, or a content
/// type, content id or extra header cannot stand in a mail.
pub fn compose(draft: &Draft) -> Result<Vec<u8>, ComposeError> {
    draft::check(draft)?;
    // Given, so that the library need not read it out of the headers again.
    let envelope =
        Envelope::new(Some(draft.from.address.for_sending()), vec![draft.to.address.for_sending()]);
    let mut builder = Message::builder()
        .envelope(envelope.map_err(ComposeError::Library)?)
        .from(for_header(&draft.from))
        .to(for_header(&draft.to))
        .date(draft.date.into())
        .subject(&draft.subject)
        .message_id(Some(draft.message_id.clone()));
    if let Some(reply_to) = &draft.reply_to {
        builder = builder.reply_to(for_header(reply_to));
    }
    if let Some(id) = &draft.in_reply_to {
        builder = builder.in_reply_to(id.clone());
    }
    if !draft.references.is_empty() {
        builder = builder.references(draft.references.join(" "));
    }
    builder = builder.raw_header(raw("Auto-Submitted", "auto-generated")?);
    for (name, value) in &draft.extra_headers {
        builder = builder.raw_header(raw(name, value)?);
    }
    let message = match parts::body(draft)? {
        parts::Tree::Single(part) => builder.singlepart(part),
        parts::Tree::Multi(part) => builder.multipart(part),
    };
    Ok(message.map_err(ComposeError::Library)?.formatted())
}

fn for_header(mailbox: &Mailbox) -> lettre::message::Mailbox {
    let name = mailbox.name.as_str();
    let name = (!name.trim().is_empty()).then(|| name.trim().to_owned());
    lettre::message::Mailbox::new(name, mailbox.address.for_sending())
}

fn raw(name: &str, value: &str) -> Result<HeaderValue, ComposeError> {
    let name = HeaderName::new_from_ascii(name.to_owned())
        .map_err(|_| ComposeError::HeaderName { name: name.to_owned() })?;
    Ok(HeaderValue::new(name, value.to_owned()))
}

#[cfg(test)]
mod tests;
