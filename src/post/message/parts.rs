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
    let seed = Seed::of(draft);
    let readable = readable(draft, &seed)?;
    if draft.attachments.is_empty() {
        return Ok(readable);
    }
    let mut mixed = within(seed.bound(MultiPart::mixed(), 'm'), readable);
    for attachment in &draft.attachments {
        let content_type = content_type(&attachment.content_type)?;
        let part = Part::new(attachment.name.clone()).body(attachment.bytes.clone(), content_type);
        mixed = mixed.singlepart(part);
    }
    Ok(Body::Multi(mixed))
}

/// What a person reads: the plain text, alone or with richer forms of the same after it.
fn readable(draft: &Draft, seed: &Seed) -> Result<Body, ComposeError> {
    let plain = SinglePart::plain(draft.text.clone());
    if draft.html.is_none() && draft.calendar.is_none() {
        return Ok(Body::Single(plain));
    }
    let mut alternative = seed.bound(MultiPart::alternative(), 'a').singlepart(plain);
    if let Some(html) = &draft.html {
        alternative = match rich(draft, html, seed)? {
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
fn rich(draft: &Draft, html: &str, seed: &Seed) -> Result<Body, ComposeError> {
    let page = SinglePart::html(html.to_owned());
    if draft.inline_images.is_empty() {
        return Ok(Body::Single(page));
    }
    let mut related = seed.bound(MultiPart::related(), 'r').singlepart(page);
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

/// What the boundaries of a mail are made of, worked out once for all of them.
struct Seed(String);

impl Seed {
    fn of(draft: &Draft) -> Self {
        let html = draft.html.as_deref().unwrap_or("");
        let mut hash = Sha256::new();
        for part in [draft.message_id.as_str(), &draft.text, html] {
            hash.update((part.len() as u64).to_be_bytes());
            hash.update(part.as_bytes());
        }
        let digest = hash.finalize();
        Self(digest.iter().take(16).map(|byte| format!("{byte:02x}")).collect())
    }

    /// The boundary of a level. `=_` cannot occur in quoted-printable or base64 text (RFC 2045, 6.7), so
    /// no encoded part can hold it; the level tells the boundaries of one mail apart.
    fn bound(&self, builder: MultiPartBuilder, level: char) -> MultiPartBuilder {
        builder.boundary(format!("=_{level}{}", self.0))
    }
}

fn content_type(given: &str) -> Result<ContentType, ComposeError> {
    ContentType::parse(given).map_err(|_| ComposeError::ContentType { given: given.to_owned() })
}
