//! The writer's own words in the text of a message: quotations, attributions, forwarded text,
//! signatures, device lines and legal footers taken out.
//!
//! Never here: MIME, HTML.
//! Promises: what stands above, below or between quoted lines stays; what is left out is never the
//! only thing said, unless it was quoted.

use std::borrow::Cow;

use super::attribution;
use super::divider::{
    begins_header_block, is_banner, is_device_line, is_legal_footer, is_list_footer, is_rule,
    legal_footer_at, opens_signature, says_forwarded, says_original, without_pictures,
};

/// What a text holds of the writer's own.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct OwnWords {
    /// The words.
    pub words: String,
    /// They are forwarded, without a word of the writer's own.
    pub only_forwarded: bool,
    /// Something was quoted.
    pub quoted: bool,
}

/// Cuts the writer's own words out of a text. `name` is the writer's, as the message gives it.
pub(super) fn own_words(text: &str, name: Option<&str>) -> OwnWords {
    let text = without_armour(text);
    let lines: Vec<&str> = text.lines().collect();
    let mut kept: Vec<&str> = Vec::new();
    let mut quoted = false;
    let mut at = 0;
    while at < lines.len() {
        let rest = &lines[at..];
        let line = rest[0];
        if says_forwarded(line) {
            return forwarded(&kept, &rest[1..], name);
        }
        // Most lines are words, and open with a letter: none of what opens with a sign.
        let is_worded = line.trim_start().starts_with(|c: char| c.is_ascii_alphanumeric());
        let ruled_block = !is_worded && is_rule(line) && begins_header_block(&rest[1..]);
        let is_original = !is_worded && says_original(line);
        if is_original || begins_header_block(rest) || ruled_block {
            quoted = true;
            break;
        }
        if let Some(length) = attribution::length(rest) {
            quoted = true;
            at += length;
            if !quotes_follow(&lines[at..]) {
                break;
            }
            continue;
        }
        if is_quoted(line) {
            quoted = true;
        } else if let Some(length) = name.and_then(|name| card_length(rest, name)) {
            at += length;
            continue;
        } else if is_worded {
            if !is_device_line(line) {
                kept.push(line);
            }
        } else if opens_signature(line) {
            at += signature_length(rest);
            continue;
        } else if is_rule(line) {
            at += footer_length(rest);
            continue;
        } else if !is_device_line(line) {
            kept.push(line);
        }
        at += 1;
    }
    OwnWords { words: paragraphs(&kept), only_forwarded: false, quoted }
}

/// The words without the lines of the message they answer, however those are marked.
pub fn without_original(words: &str, original: &str) -> String {
    let plain = |line: &str| -> String {
        let marks = ['>', '|', ' ', '\t', '*', '•', '-'];
        let line = line.trim_start_matches(marks).trim_end_matches(['*', ' ']);
        line.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
    };
    let known: std::collections::HashSet<String> =
        original.lines().map(plain).filter(|line| !line.is_empty()).collect();
    let whole: String = original.lines().map(plain).collect();
    let kept: Vec<&str> = words
        .lines()
        .filter(|line| {
            let line = plain(line);
            // A short line such as 'gone' may be the answer itself: only long pieces of a wrapped
            // line are known by being inside the original.
            let piece = line.chars().count() >= PIECE_CHARS_MIN && whole.contains(&line);
            line.is_empty()
                || !(known.contains(&line) && line.chars().count() >= LINE_CHARS_MIN || piece)
        })
        .collect();
    kept.join("\n").trim().to_owned()
}

/// A line as short as an answer is never taken for a quoted one.
const LINE_CHARS_MIN: usize = 16;
/// A piece of a line that was wrapped anew is at least this long.
const PIECE_CHARS_MIN: usize = 24;

fn is_quoted(line: &str) -> bool {
    let line = line.trim_start();
    // 'SC> …': some programs put the initials of the quoted writer before the sign.
    let initials = line.chars().take_while(char::is_ascii_uppercase).count();
    line.starts_with(['>', '|'])
        || (1..=INITIALS_MAX).contains(&initials) && line[initials..].starts_with('>')
}

/// So many initials at most.
const INITIALS_MAX: usize = 4;

/// Whether the next line that is not blank is quoted: then words below may be the writer's.
fn quotes_follow(lines: &[&str]) -> bool {
    lines.iter().find(|line| !line.trim().is_empty()).is_some_and(|line| is_quoted(line))
}

/// A signature goes to the end, or to what is quoted below it.
fn signature_length(lines: &[&str]) -> usize {
    let ends = |i: &usize| {
        let rest = &lines[*i..];
        is_quoted(rest[0])
            || attribution::length(rest).is_some()
            || says_original(rest[0])
            || says_forwarded(rest[0])
            || begins_header_block(rest)
    };
    (1..lines.len()).find(ends).unwrap_or(lines.len())
}

/// How many lines the writer's name with a telephone number or an address below it takes, to the
/// next blank line: a signature without dashes. A slogan in it is nobody's answer.
fn card_length(lines: &[&str], name: &str) -> Option<usize> {
    let folded = |text: &str| text.trim_matches(['*', '-', ' ', ',', '\t']).to_lowercase();
    let (line, name) = (folded(lines[0]), folded(name));
    let is_name = !line.is_empty()
        && (line == name || name.strip_prefix(&line).is_some_and(|rest| rest.starts_with(' ')));
    let end = lines.iter().position(|line| line.trim().is_empty()).unwrap_or(lines.len());
    let reaches = |line: &&str| {
        let digits = line.chars().filter(char::is_ascii_digit).count();
        digits >= PHONE_DIGITS_MIN || line.contains('@') || line.contains("www.")
    };
    (is_name && lines[1..end].iter().any(reaches)).then_some(end)
}

/// A telephone number has at least so many digits.
const PHONE_DIGITS_MIN: usize = 7;

/// A rule with the footer of a lawyer or of a mailing list below it goes to the next rule or blank
/// line; a rule alone is one line.
fn footer_length(lines: &[&str]) -> usize {
    let close = (1..lines.len()).find(|i| is_rule(lines[*i]));
    let end = close.unwrap_or_else(|| {
        (1..lines.len()).find(|i| lines[*i].trim().is_empty()).unwrap_or(lines.len())
    });
    let inner = lines[1..end].join(" ");
    if !is_legal_footer(&inner) && !is_list_footer(&inner) {
        return 1;
    }
    if close.is_some() { end + 1 } else { end }
}

/// A forwarded text counts only where the writer says nothing.
fn forwarded(kept: &[&str], below: &[&str], name: Option<&str>) -> OwnWords {
    let own = paragraphs(kept);
    if !own.is_empty() {
        return OwnWords { words: own, only_forwarded: false, quoted: true };
    }
    let body = below.iter().position(|line| line.trim().is_empty()).unwrap_or(0);
    let inner = own_words(&below[body..].join("\n"), name);
    OwnWords { words: inner.words, only_forwarded: true, quoted: true }
}

/// The kept lines without legal paragraphs, warnings of mail from outside, what stands for pictures,
/// and outer blank lines.
fn paragraphs(lines: &[&str]) -> String {
    let may_be_legal = is_legal_footer(&lines.join(" "));
    let mut out = String::new();
    for paragraph in lines.split(|line| line.trim().is_empty()) {
        let end = if may_be_legal { legal_footer_at(paragraph) } else { paragraph.len() };
        let shown = paragraph[..end].iter().map(|line| without_pictures(line));
        let shown: Vec<Cow<'_, str>> = shown.filter(|line| !line.trim().is_empty()).collect();
        if is_banner(&shown) {
            continue;
        }
        let from = out.len();
        for (n, line) in shown.iter().enumerate() {
            let before = if n > 0 {
                "\n"
            } else if from > 0 {
                "\n\n"
            } else {
                ""
            };
            out.push_str(before);
            out.push_str(line.trim_end());
        }
    }
    out.trim().to_owned()
}

/// The text inside a cleartext signature (RFC 9580, section 7), where there is one.
fn without_armour(text: &str) -> Cow<'_, str> {
    const BEGIN: &str = "-----BEGIN PGP SIGNED MESSAGE-----";
    const SIGNATURE: &str = "-----BEGIN PGP SIGNATURE-----";
    const END: &str = "-----END PGP SIGNATURE-----";
    let text = line_ends(text);
    if !text.contains("-----BEGIN PGP") {
        return text;
    }
    let Some((before, signed)) = text.split_once(BEGIN) else { return text };
    let (inner, tail) = signed.split_once(SIGNATURE).unwrap_or((signed, ""));
    let after = tail.split_once(END).map_or("", |(_, after)| after);
    // The armour's own headers end with a blank line; lines that began with a dash are escaped.
    let inner = inner.split_once("\n\n").map_or(inner, |(_, words)| words);
    let inner: Vec<&str> =
        inner.lines().map(|line| line.strip_prefix("- ").unwrap_or(line)).collect();
    Cow::Owned(format!("{before}{}{after}", inner.join("\n")))
}

/// A text with the line ends of this system.
pub(super) fn line_ends(text: &str) -> Cow<'_, str> {
    if !text.contains('\r') {
        return text.into();
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('\r') {
        out.push_str(&rest[..at]);
        rest = &rest[at + 1..];
        if !rest.starts_with('\n') {
            out.push('\r');
        }
    }
    out.push_str(rest);
    out.into()
}
