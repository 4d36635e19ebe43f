//! What a mail is made of, and the check that nothing in it can break out of its place.
//!
//! Never here: encoding, MIME.
//! Promises: a checked draft holds no control character in any header value, and well-formed ids.

use chrono::{DateTime, Utc};

use super::super::address::Mailbox;

/// Headers that the composer writes itself; an extra header must not repeat them.
const OWN_HEADERS: [&str; 15] = [
    "from",
    "to",
    "cc",
    "bcc",
    "sender",
    "reply-to",
    "subject",
    "date",
    "message-id",
    "in-reply-to",
    "references",
    "auto-submitted",
    "mime-version",
    "content-type",
    "content-transfer-encoding",
];

/// Longest message id, in bytes, so that its header line needs no folding (RFC 5322, 2.1.1).
const ID_BYTES_MAX: usize = 900;

/// A mail before it is composed.
#[derive(Clone, PartialEq, Eq)]
pub struct Draft {
    /// Who writes.
    pub from: Mailbox,
    /// The one who reads; one person per mail.
    pub to: Mailbox,
    /// Where an answer goes, with its token in the plus-address.
    pub reply_to: Option<Mailbox>,
    /// `<left@right>`, unique and kept over every resending.
    pub message_id: String,
    /// The mail that this one follows, `<left@right>`.
    pub in_reply_to: Option<String>,
    /// The thread, oldest first, each `<left@right>`.
    pub references: Vec<String>,
    /// The subject, in any script.
    pub subject: String,
    /// When it was written.
    pub date: DateTime<Utc>,
    /// The plain text; lines end in `\n`.
    pub text: String,
    /// The same as HTML, with neither scripts nor a style sheet: rare letters go as references.
    pub html: Option<String>,
    /// Pictures that the HTML shows by `cid:`.
    pub inline_images: Vec<InlineImage>,
    /// An iCalendar text with method PUBLISH, shown by mail programs that know calendars.
    pub calendar: Option<String>,
    /// Files beside the text.
    pub attachments: Vec<Attachment>,
    /// Further headers, name and value.
    pub extra_headers: Vec<(String, String)>,
}

impl std::fmt::Debug for Draft {
    /// Shows the id only: the rest is personal.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Draft").field("message_id", &self.message_id).finish_non_exhaustive()
    }
}

/// A PNG picture inside the HTML.
#[derive(Clone, PartialEq, Eq)]
pub struct InlineImage {
    /// The id that the HTML names after `cid:`, such as `timeline@clinic.example`.
    pub content_id: String,
    /// The PNG file.
    pub png: Vec<u8>,
}

/// A file beside the text.
#[derive(Clone, PartialEq, Eq)]
pub struct Attachment {
    /// The file name that the reader sees; no path.
    pub name: String,
    /// Such as `application/pdf`.
    pub content_type: String,
    /// The file.
    pub bytes: Vec<u8>,
}

/// Why a draft cannot become a mail.
#[derive(Debug, thiserror::Error)]
pub enum ComposeError {
    /// A value with a line break or another control character in it.
    #[error("{field} holds a line break or another control character: remove it")]
    ControlCharacter {
        /// Which value.
        field: &'static str,
    },
    /// An id that is not `<left@right>`.
    #[error("{field} must have the form `<left@right>`, in plain letters without spaces")]
    Id {
        /// Which value.
        field: &'static str,
    },
    /// An extra header with an impossible name, or one that the composer writes itself.
    #[error(
        "`{name}` cannot be an extra header: it is not a header name, or is set by other means"
    )]
    HeaderName {
        /// The name given.
        name: String,
    },
    /// A content type that cannot be read.
    #[error("`{given}` is no content type; write it like `application/pdf`")]
    ContentType {
        /// The type given.
        given: String,
    },
    /// A picture's id that cannot stand in a header.
    #[error("a picture's content id is made of letters, digits and `.@_-`")]
    ContentId,
    /// The mail library's refusal.
    #[error("the mail cannot be put together")]
    Library(#[source] lettre::error::Error),
}

/// Checks every value that ends up in a header.
pub(super) fn check(draft: &Draft) -> Result<(), ComposeError> {
    one_line("the sender's name", draft.from.name.as_str())?;
    one_line("the recipient's name", draft.to.name.as_str())?;
    if let Some(reply_to) = &draft.reply_to {
        one_line("the name to answer to", reply_to.name.as_str())?;
    }
    one_line("the subject", &draft.subject)?;
    id("the message id", &draft.message_id)?;
    if let Some(parent) = &draft.in_reply_to {
        id("the id answered", parent)?;
    }
    for reference in &draft.references {
        id("a reference", reference)?;
    }
    for image in &draft.inline_images {
        let fits = |c: char| c.is_ascii_alphanumeric() || ".@_-".contains(c);
        if image.content_id.is_empty() || !image.content_id.chars().all(fits) {
            return Err(ComposeError::ContentId);
        }
    }
    for attachment in &draft.attachments {
        one_line("an attachment's name", &attachment.name)?;
        one_line("an attachment's content type", &attachment.content_type)?;
    }
    for (name, value) in &draft.extra_headers {
        one_line("an extra header", value)?;
        let known = OWN_HEADERS.contains(&name.to_ascii_lowercase().as_str());
        // RFC 5322, 3.6.8: printable ASCII without the colon.
        let well_formed =
            !name.is_empty() && name.bytes().all(|b| b.is_ascii_graphic() && b != b':');
        if known || !well_formed {
            return Err(ComposeError::HeaderName { name: name.clone() });
        }
    }
    Ok(())
}

fn one_line(field: &'static str, value: &str) -> Result<(), ComposeError> {
    // U+2028 and U+2029 are line breaks to some readers, though not control characters.
    let breaks = |c: char| c.is_control() || matches!(c, '\u{2028}' | '\u{2029}');
    if value.chars().any(breaks) {
        return Err(ComposeError::ControlCharacter { field });
    }
    Ok(())
}

fn id(field: &'static str, value: &str) -> Result<(), ComposeError> {
    let inner = value.strip_prefix('<').and_then(|v| v.strip_suffix('>')).unwrap_or("");
    let fits = |part: &str| {
        !part.is_empty() && part.bytes().all(|b| b.is_ascii_graphic() && !b"<>@\"\\".contains(&b))
    };
    let formed = inner.split_once('@').is_some_and(|(left, right)| fits(left) && fits(right));
    if formed && value.len() <= ID_BYTES_MAX { Ok(()) } else { Err(ComposeError::Id { field }) }
}
