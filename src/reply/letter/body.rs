//! The text that a message shows: plain text where there is one, else the text of its HTML.
//!
//! Never here: which of it is the writer's own.
//! Promises: attachments and encrypted parts give no text; the text is bounded.

use std::collections::HashSet;

use mail_parser::{Encoding, Message, MessagePart, MimeHeaders, PartType};

use super::flowed::unflowed;
use super::html::to_text;
use super::own_words::line_ends;
use crate::reply::reading::TEXT_BYTES_MAX;

/// The text of a message, its inline parts one below the other.
pub(super) fn text(message: &Message<'_>) -> String {
    let raw = message.raw_message();
    let plain = joined(raw, message.text_bodies());
    let is_html = |part: &MessagePart<'_>| matches!(part.body, PartType::Html(_));
    // Of a mail that is HTML alone the plain text was made of it already.
    let has_both = message.html_bodies().any(is_html) && !message.text_bodies().all(is_html);
    if !has_both && !plain.trim().is_empty() {
        return plain;
    }
    let html = joined(raw, message.html_bodies());
    if html.trim().is_empty() || is_told_by(&plain, &html) { plain } else { html }
}

/// Whether most words of the plain text stand in the text of the HTML too: what says 'use a program
/// that shows HTML' is no text of the writer's.
fn is_told_by(plain: &str, html: &str) -> bool {
    let shown: HashSet<&str> = html.split_whitespace().collect();
    let words = plain.split_whitespace().filter(|word| word.contains(char::is_alphabetic));
    let (all, told) =
        words.fold((0, 0), |(all, told), word| (all + 1, told + usize::from(shown.contains(word))));
    all > 0 && told * 2 >= all
}

fn joined<'a>(raw: &[u8], parts: impl Iterator<Item = &'a MessagePart<'a>>) -> String {
    let mut out = String::new();
    for part in parts {
        if out.len() >= TEXT_BYTES_MAX {
            break;
        }
        let text = part_text(raw, part);
        if !out.is_empty() && !text.is_empty() {
            out.push('\n');
        }
        // One byte over the limit is kept, so that a reply that was cut is known to be.
        out.push_str(first_bytes(&text, TEXT_BYTES_MAX + 1));
    }
    out
}

fn part_text(raw: &[u8], part: &MessagePart<'_>) -> String {
    let is_calendar = part
        .content_type()
        .and_then(|t| t.subtype())
        .is_some_and(|s| s.eq_ignore_ascii_case("calendar"));
    if is_calendar {
        return String::new();
    }
    match &part.body {
        PartType::Text(text) => {
            let kind = part.content_type();
            let flows = kind
                .and_then(|t| t.attribute("format"))
                .is_some_and(|format| format.eq_ignore_ascii_case("flowed"));
            let deletes_space = kind
                .and_then(|t| t.attribute("delsp"))
                .is_some_and(|delsp| delsp.eq_ignore_ascii_case("yes"));
            let guessed = as_latin(raw, part, text);
            let text = line_ends(guessed.as_deref().unwrap_or(text));
            if flows { unflowed(&text, deletes_space) } else { text.into_owned() }
        }
        PartType::Html(html) => to_text(first_bytes(html, HTML_BYTES_MAX)),
        PartType::Binary(_)
        | PartType::InlineBinary(_)
        | PartType::Message(_)
        | PartType::Multipart(_) => String::new(),
    }
}

/// What a part says whose bytes are no UTF-8 although nothing else was declared: in ISO 8859-1, if
/// that makes letters and the signs of sentences of them, and few.
fn as_latin(raw: &[u8], part: &MessagePart<'_>, text: &str) -> Option<String> {
    if !text.contains(char::REPLACEMENT_CHARACTER) || part.encoding != Encoding::None {
        return None;
    }
    let from = usize::try_from(part.offset_body).ok()?;
    let bytes = raw.get(from..usize::try_from(part.offset_end).ok()?)?;
    let high = bytes.iter().filter(|byte| !byte.is_ascii());
    let signs = ['¿', '¡', '«', '»', '°', 'º', 'ª', '½', '¼', '\u{a0}'];
    let written =
        |byte: &u8| char::from(*byte).is_alphabetic() || signs.contains(&char::from(*byte));
    let few = high.clone().count() * LATIN_SHARE <= bytes.len();
    let is_latin = std::str::from_utf8(bytes).is_err() && few && high.clone().all(written);
    is_latin.then(|| bytes.iter().map(|byte| char::from(*byte)).collect())
}

/// At most one of so many letters has an accent, in the languages that are written in ISO 8859-1.
const LATIN_SHARE: usize = 6;

/// Most bytes of HTML that are turned into text: mark-up is many times longer than its words.
const HTML_BYTES_MAX: usize = 16 * TEXT_BYTES_MAX;

fn first_bytes(text: &str, limit: usize) -> &str {
    if text.len() <= limit {
        return text;
    }
    let end = (0..=limit).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0);
    &text[..end]
}
