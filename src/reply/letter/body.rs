//! The text that a message shows: plain text where there is one, else the text of its HTML.
//!
//! Never here: which of it is the writer's own.
//! Promises: attachments and encrypted parts give no text; the text is bounded.

use mail_parser::{Message, MessagePart, MimeHeaders, PartType};

use super::flowed::unflowed;
use super::html::to_text;
use crate::reply::reading::TEXT_BYTES_MAX;

/// The text of a message, its inline parts one below the other.
pub(super) fn text(message: &Message<'_>) -> String {
    let plain = joined(message.text_bodies());
    if plain.trim().is_empty() { joined(message.html_bodies()) } else { plain }
}

fn joined<'a>(parts: impl Iterator<Item = &'a MessagePart<'a>>) -> String {
    let mut out = String::new();
    for part in parts {
        if out.len() >= TEXT_BYTES_MAX {
            break;
        }
        let text = part_text(part);
        if !out.is_empty() && !text.is_empty() {
            out.push('\n');
        }
        // One byte over the limit is kept, so that a reply that was cut is known to be.
        out.push_str(first_bytes(&text, TEXT_BYTES_MAX + 1));
    }
    out
}

fn part_text(part: &MessagePart<'_>) -> String {
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
            let text = text.replace("\r\n", "\n");
            if flows { unflowed(&text, deletes_space) } else { text }
        }
        PartType::Html(html) => to_text(first_bytes(html, HTML_BYTES_MAX)),
        PartType::Binary(_)
        | PartType::InlineBinary(_)
        | PartType::Message(_)
        | PartType::Multipart(_) => String::new(),
    }
}

/// Most bytes of HTML that are turned into text: mark-up is many times longer than its words.
const HTML_BYTES_MAX: usize = 16 * TEXT_BYTES_MAX;

fn first_bytes(text: &str, limit: usize) -> &str {
    if text.len() <= limit {
        return text;
    }
    let end = (0..=limit).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0);
    &text[..end]
}
