//! The MIME tree of a mail: mixed[ alternative[ plain, related[ html, pictures ], calendar ], files ],
//! with every level left out that would hold one part only.
//!
//! Never here: headers of the mail itself.
//! Promises: boundaries follow from the mail's id, the address for its answers and its words alone, and
//! cannot be guessed by who knows only one of them.

use lettre::message::header::{ContentTransferEncoding, ContentType};
use lettre::message::{Attachment as Part, Body, MultiPart, MultiPartBuilder, SinglePart};
use sha2::{Digest, Sha256};

use super::draft::{ComposeError, Draft};

/// The content of a mail.
pub(super) enum Tree {
    /// One part alone.
    Single(SinglePart),
    /// A tree of parts.
    Multi(MultiPart),
}

/// Builds the tree for a checked draft.
pub(super) fn body(draft: &Draft) -> Result<Tree, ComposeError> {
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
    Ok(Tree::Multi(mixed))
}

/// What a person reads: the plain text, alone or with richer forms of the same after it.
fn readable(draft: &Draft, seed: &Seed) -> Result<Tree, ComposeError> {
    let plain = SinglePart::plain(draft.text.clone());
    if draft.html.is_none() && draft.calendar.is_none() {
        return Ok(Tree::Single(plain));
    }
    let mut alternative = seed.bound(MultiPart::alternative(), 'a').singlepart(plain);
    if let Some(html) = &draft.html {
        alternative = match rich(draft, html, seed)? {
            Tree::Single(part) => alternative.singlepart(part),
            Tree::Multi(part) => alternative.multipart(part),
        };
    }
    if let Some(calendar) = &draft.calendar {
        let content_type = content_type("text/calendar; charset=utf-8; method=PUBLISH")?;
        alternative = alternative
            .singlepart(SinglePart::builder().header(content_type).body(calendar.clone()));
    }
    Ok(Tree::Multi(alternative))
}

/// The HTML with its pictures.
fn rich(draft: &Draft, html: &str, seed: &Seed) -> Result<Tree, ComposeError> {
    let page = page(html);
    if draft.inline_images.is_empty() {
        return Ok(Tree::Single(page));
    }
    let mut related = seed.bound(MultiPart::related(), 'r').singlepart(page);
    let png = content_type("image/png")?;
    for image in &draft.inline_images {
        let part = Part::new_inline(image.content_id.clone()).body(image.png.clone(), png.clone());
        related = related.singlepart(part);
    }
    Ok(Tree::Multi(related))
}

/// The HTML as it stands where it can be sent so, which is shorter and costs less than to encode it.
fn page(html: &str) -> SinglePart {
    match as_it_stands(html) {
        Some(bytes) => {
            let body = Body::dangerous_pre_encoded(bytes, ContentTransferEncoding::SevenBit);
            SinglePart::builder().header(ContentType::TEXT_HTML).body(body)
        }
        None => SinglePart::html(html.to_owned()),
    }
}

/// Bytes of a line that every server takes, its end apart (RFC 5322, 2.1.1).
const LINE_BYTES_MAX: usize = 998;

/// HTML in ASCII, its other letters as references (`&#233;`), with CRLF line ends. None where a line
/// is too long, or where so many letters are others that encoding is shorter.
fn as_it_stands(html: &str) -> Option<Vec<u8>> {
    // All bytes are looked at, which is faster than to stop at the first.
    let is_control = |byte: u8| byte.is_ascii_control() & (byte != b'\t') & (byte != b'\n');
    let has_control = html.bytes().fold(false, |found, byte| found | is_control(byte));
    // Bytes beyond the first of each letter: counting letters is what the library does fast.
    let others = html.len() - html.chars().count();
    if has_control || others > html.len() / 32 {
        return None;
    }
    let mut bytes = Vec::with_capacity(html.len() + html.len() / 16 + others * 8);
    for line in html.split_inclusive('\n') {
        let begin = bytes.len();
        let (line, end) = match line.strip_suffix('\n') {
            Some(line) => (line, "\r\n"),
            None => (line, ""),
        };
        if line.is_ascii() {
            bytes.extend_from_slice(line.as_bytes());
        } else {
            for c in line.chars() {
                match u8::try_from(c).ok().filter(u8::is_ascii) {
                    Some(byte) => bytes.push(byte),
                    None => bytes.extend_from_slice(format!("&#{};", u32::from(c)).as_bytes()),
                }
            }
        }
        if bytes.len() - begin > LINE_BYTES_MAX {
            return None;
        }
        bytes.extend_from_slice(end.as_bytes());
    }
    Some(bytes)
}

fn within(builder: MultiPartBuilder, body: Tree) -> MultiPart {
    match body {
        Tree::Single(part) => builder.singlepart(part),
        Tree::Multi(part) => builder.multipart(part),
    }
}

/// What the boundaries of a mail are made of, worked out once for all of them.
struct Seed(String);

impl Seed {
    fn of(draft: &Draft) -> Self {
        let answers_go_to = draft.reply_to.as_ref().map_or("", |to| to.address.as_str());
        let mut hash = Sha256::new();
        for part in [draft.message_id.as_str(), answers_go_to, &draft.text] {
            hash.update((part.len() as u64).to_be_bytes());
            hash.update(part.as_bytes());
        }
        let digest = hash.finalize();
        let half = u128::from_be_bytes(std::array::from_fn(|at| digest[at]));
        Self(format!("{half:032x}"))
    }

    /// The boundary of a level; the level tells the boundaries of one mail apart. `=_` cannot occur in
    /// quoted-printable or base64 text (RFC 2045, 6.7), and whoever wrote words that a page shows as they
    /// stand would have to know the secret in the address.
    fn bound(&self, builder: MultiPartBuilder, level: char) -> MultiPartBuilder {
        builder.boundary(format!("=_{level}{}", self.0))
    }
}

fn content_type(given: &str) -> Result<ContentType, ComposeError> {
    ContentType::parse(given).map_err(|_| ComposeError::ContentType { given: given.to_owned() })
}
