//! The MIME tree of a mail: mixed[ alternative[ plain, related[ html, pictures ], calendar ], files ],
//! with every level left out that would hold one part only.
//!
//! Never here: headers of the mail itself.
//! Promises: boundaries follow from the mail's id and words alone, and cannot be guessed by who
//! knows only one of them.

use lettre::message::header::ContentType;
use lettre::message::{Attachment as Part, MultiPart, MultiPartBuilder, SinglePart};
use sha2::{Digest, Sha256};

use super::draft::{ComposeError, Draft};

/// The content of a mail.
pub(super) enum Body {
    /// One part alone.
    Single(SinglePart),
    /// A tree of parts.
    Multi(MultiPart),
}

/// Builds the tree for a checked draft.
pub(super) fn body(draft: &Draft) -> Result<Body, ComposeError> {
    let readable = readable(draft)?;
    if draft.attachments.is_empty() {
        return Ok(readable);
    }
    let mut mixed = within(bounded(MultiPart::mixed(), draft, "mixed"), readable);
    for attachment in &draft.attachments {
        let content_type = content_type(&attachment.content_type)?;
        let part = Part::new(attachment.name.clone()).body(attachment.bytes.clone(), content_type);
        mixed = mixed.singlepart(part);
    }
    Ok(Body::Multi(mixed))
}

/// What a person reads: the plain text, alone or with richer forms of the same after it.
fn readable(draft: &Draft) -> Result<Body, ComposeError> {
    let plain = SinglePart::plain(draft.text.clone());
    if draft.html.is_none() && draft.calendar.is_none() {
        return Ok(Body::Single(plain));
    }
    let mut alternative = bounded(MultiPart::alternative(), draft, "alternative").singlepart(plain);
    if let Some(html) = &draft.html {
        alternative = match rich(draft, html)? {
            Body::Single(part) => alternative.singlepart(part),
            Body::Multi(part) => alternative.multipart(part),
        };
    }
    if let Some(calendar) = &draft.calendar {
        let content_type = content_type("text/calendar; charset=utf-8; method=PUBLISH")?;
        alternative = alternative
            .singlepart(SinglePart::builder().header(content_type).body(calendar.clone()));
    }
    Ok(Body::Multi(alternative))
}

/// The HTML with its pictures.
fn rich(draft: &Draft, html: &str) -> Result<Body, ComposeError> {
    let page = SinglePart::html(html.to_owned());
    if draft.inline_images.is_empty() {
        return Ok(Body::Single(page));
    }
    let mut related = bounded(MultiPart::related(), draft, "related").singlepart(page);
    let png = content_type("image/png")?;
    for image in &draft.inline_images {
        let part = Part::new_inline(image.content_id.clone()).body(image.png.clone(), png.clone());
        related = related.singlepart(part);
    }
    Ok(Body::Multi(related))
}

fn within(builder: MultiPartBuilder, body: Body) -> MultiPart {
    match body {
        Body::Single(part) => builder.singlepart(part),
        Body::Multi(part) => builder.multipart(part),
    }
}

fn bounded(builder: MultiPartBuilder, draft: &Draft, level: &str) -> MultiPartBuilder {
    let mut hash = Sha256::new();
    let html = draft.html.as_deref().unwrap_or("");
    for part in [level, &draft.message_id, &draft.text, html] {
        hash.update((part.len() as u64).to_be_bytes());
        hash.update(part.as_bytes());
    }
    let digest = hash.finalize();
    let mut boundary = String::from("=_");
    for byte in digest.iter().take(16) {
        boundary.push_str(&format!("{byte:02x}"));
    }
    // `=_` cannot occur in quoted-printable or base64 text (RFC 2045, 6.7), so no encoded part
    // can hold the boundary.
    builder.boundary(boundary)
}

fn content_type(given: &str) -> Result<ContentType, ComposeError> {
    ContentType::parse(given).map_err(|_| ComposeError::ContentType { given: given.to_owned() })
}
