//! The HTML part of a notice.
//!
//! Never here: wording, remote content, scripts, style sheets.
//! Promises: everything that people wrote or are called is escaped; styles are inline and every
//! text has both its colours set, so that dark mode cannot hide it; answers are tall enough for a
//! thumb (48 px and more); headings are headings.

use std::borrow::Cow;

use super::colours::{ALERT, BUTTON, HEAD, Pair, QUOTE, SMALL, TEXT};
use super::draft::{Answers, Block, Draft, Part, Urgency};

/// Room for most pages, so that they need not grow.
const PAGE_BYTES: usize = 8 * 1024;

/// The page of a draft, with answers going to `reply_address`.
pub(super) fn rendered(draft: &Draft, reply_address: &str) -> String {
    let (language, title) = (escaped(&draft.language), escaped(&draft.subject));
    let direction = draft.direction;
    let mut out = String::with_capacity(PAGE_BYTES);
    put(
        &mut out,
        &["<!doctype html>\n<html lang=\"", &language, "\" dir=\"", direction, HEAD_BEGINS],
    );
    put(&mut out, &[&title, "</title>\n</head>\n<body style=\"margin:0;padding:0;"]);
    both(&mut out, TEXT);
    put(&mut out, &["\">\n<div lang=\"", &language, "\" dir=\"", direction, COLUMN_BEGINS]);
    both(&mut out, TEXT);
    out.push_str("\">\n");
    for block in &draft.blocks {
        show(&mut out, draft, block, reply_address);
    }
    out.push_str("</div>\n</body>\n</html>\n");
    out
}

const HEAD_BEGINS: &str = "\">\n<head>\n<meta charset=\"utf-8\">\n\
    <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
    <meta name=\"color-scheme\" content=\"light dark\">\n<title>";

const COLUMN_BEGINS: &str = "\" style=\"box-sizing:border-box;\
    max-width:600px;margin:0 auto;padding:16px;font-family:-apple-system,'Segoe UI',Roboto,\
    'Noto Sans',Arial,sans-serif;font-size:17px;line-height:1.45;overflow-wrap:break-word;";

/// Puts pieces on a page. A page is made for each mail of a crowd, so nothing is put together aside
/// first.
fn put(out: &mut String, pieces: &[&str]) {
    out.extend(pieces.iter().copied());
}

fn both(out: &mut String, Pair { ink, ground }: Pair) {
    put(out, &["color:", ink, ";background-color:", ground]);
}

fn show(out: &mut String, draft: &Draft, block: &Block, reply_address: &str) {
    match block {
        Block::Lead(text) => {
            out.push_str("<h1 style=\"margin:0 0 14px;font-size:20px;line-height:1.3;");
            if draft.urgency == Urgency::Alert {
                out.push_str("padding:12px 14px;border-radius:8px;");
                both(out, ALERT);
            }
            put(out, &["\">", &escaped(text), "</h1>\n"]);
        }
        Block::Line(text) => {
            put(out, &["<p style=\"margin:0 0 14px\">", &escaped(text), "</p>\n"]);
        }
        Block::Heading(text) => {
            let begin = "<h2 style=\"margin:20px 0 8px;font-size:17px;line-height:1.3\">";
            put(out, &[begin, &escaped(text), "</h2>\n"]);
        }
        Block::Urgent(text) => {
            out.push_str(
                "<p style=\"margin:18px 0 10px;padding-inline-start:10px;\
                 border-inline-start:4px solid ",
            );
            put(out, &[ALERT.ground, ";font-size:15px;line-height:1.4;"]);
            both(out, TEXT);
            put(out, &["\">", &escaped(text), "</p>\n"]);
        }
        Block::Small(text) => {
            out.push_str("<p style=\"margin:0 0 8px;font-size:15px;line-height:1.4;");
            both(out, SMALL);
            put(out, &["\">", &escaped(text), "</p>\n"]);
        }
        Block::Quote { words, .. } => {
            out.push_str(
                "<blockquote style=\"margin:0 0 14px;padding:10px 14px;border-radius:8px;",
            );
            both(out, QUOTE);
            put(out, &["\">", &escaped(words).replace('\n', "<br>"), "</blockquote>\n"]);
        }
        Block::Answers(group) => answers(out, draft, group, reply_address),
        Block::Part(of) => part(out, of),
        Block::Table { head, rows } => table(out, head, rows),
        Block::Ordered(items) => list(out, "ol", items),
        Block::Unordered(items) => list(out, "ul", items),
        Block::Picture { picture, .. } => {
            let (id, described) = (escaped(&picture.content_id), escaped(&picture.described));
            let begin = "<p style=\"margin:0 0 14px\"><img src=\"cid:";
            put(out, &[begin, &id, "\" alt=\"", &described]);
            out.push_str(
                "\" style=\"display:block;width:100%;max-width:568px;height:auto;border:0\"></p>\n",
            );
        }
    }
}

/// What is about one client: the answers stand beside each other, for there are many parts.
fn part(out: &mut String, part: &Part) {
    out.push_str("<h2 style=\"margin:22px 0 6px;padding-top:10px;border-top:1px solid ");
    let heading = escaped(&part.heading);
    put(out, &[BUTTON.ink, ";font-size:17px;line-height:1.3\">", &heading, "</h2>\n"]);
    for line in &part.lines {
        put(out, &["<p style=\"margin:0 0 8px\">", &escaped(line), "</p>\n"]);
    }
    out.push_str("<p style=\"margin:0 0 14px\">");
    for answer in &part.answers {
        put(out, &["<a href=\"", &escaped(&part.link(answer))]);
        out.push_str(
            "\" style=\"display:inline-block;box-sizing:border-box;min-height:48px;\
             margin:0 8px 8px 0;padding:11px 13px;border:2px solid ",
        );
        put(out, &[BUTTON.ink, ";border-radius:10px;"]);
        out.push_str("font-weight:bold;font-size:15px;line-height:1.3;text-decoration:none;");
        both(out, BUTTON);
        put(out, &["\">", &escaped(&answer.label), "</a>\n"]);
    }
    out.push_str("</p>\n");
}

fn answers(out: &mut String, draft: &Draft, group: &Answers, reply_address: &str) {
    let tap = escaped(&group.tap);
    put(out, &["<p style=\"margin:0 0 8px;font-weight:bold\">", &tap, "</p>\n"]);
    for answer in &group.answers {
        let link = draft.link(reply_address, answer);
        put(out, &["<p style=\"margin:0 0 10px\"><a href=\"", &escaped(&link)]);
        out.push_str(
            "\" style=\"display:block;box-sizing:border-box;min-height:48px;padding:12px 14px;\
             border:2px solid ",
        );
        put(out, &[BUTTON.ink, ";border-radius:10px;"]);
        out.push_str("font-weight:bold;line-height:1.3;text-decoration:none;");
        both(out, BUTTON);
        put(out, &["\">", &escaped(&answer.label)]);
        if let Some(meaning) = &answer.meaning {
            let begin = "<br><span style=\"font-weight:normal\">";
            put(out, &[begin, &escaped(meaning), "</span>"]);
        }
        out.push_str("</a></p>\n");
    }
}

/// Up to this length a cell with a number stays on one line: a duration such as `1 h 30 min`.
const UNBROKEN_CHARS_MAX: usize = 10;

fn table(out: &mut String, head: &[String], rows: &[Vec<String>]) {
    let cell =
        "padding:6px 6px;text-align:start;vertical-align:top;border-bottom:1px solid #9aa4af";
    out.push_str(
        "<table style=\"width:100%;margin:0 0 14px;border-collapse:collapse;font-size:15px;\
         line-height:1.35\">\n<thead><tr>",
    );
    for text in head {
        put(out, &["<th scope=\"col\" style=\"", cell, ";"]);
        both(out, HEAD);
        put(out, &["\">", &escaped(text), "</th>"]);
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for cells in rows {
        out.push_str("<tr>");
        for text in cells {
            let is_short = text.chars().count() <= UNBROKEN_CHARS_MAX;
            let is_unbroken = is_short && text.contains(|c: char| c.is_ascii_digit());
            let wrap = if is_unbroken { ";white-space:nowrap" } else { "" };
            put(out, &["<td style=\"", cell, wrap, ";"]);
            both(out, TEXT);
            put(out, &["\">", &escaped(text), "</td>"]);
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
}

fn list(out: &mut String, tag: &str, items: &[String]) {
    put(out, &["<", tag, " style=\"margin:0 0 14px;padding-inline-start:24px\">\n"]);
    for item in items {
        put(out, &["<li style=\"margin:0 0 6px\">", &escaped(item), "</li>\n"]);
    }
    put(out, &["</", tag, ">\n"]);
}

/// A text that cannot break out of where it stands.
pub(super) fn escaped(text: &str) -> Cow<'_, str> {
    let is_mark = |byte: &u8| matches!(byte, b'&' | b'<' | b'>' | b'"' | b'\'');
    // All bytes are looked at, which is faster than to stop at the first.
    if !text.as_bytes().iter().fold(false, |found, byte| found | is_mark(byte)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + text.len() / 8 + 16);
    let mut rest = text;
    while let Some(at) = rest.as_bytes().iter().position(is_mark) {
        out.push_str(&rest[..at]);
        out.push_str(match rest.as_bytes()[at] {
            b'&' => "&amp;",
            b'<' => "&lt;",
            b'>' => "&gt;",
            b'"' => "&quot;",
            _ => "&#39;",
        });
        rest = &rest[at + 1..];
    }
    out.push_str(rest);
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_mark_of_html_is_escaped_and_all_else_stays() {
        assert_eq!(escaped("Größe 3 – ok"), "Größe 3 – ok");
        assert_eq!(
            escaped("<a href=\"x\">'é' & ü</a>"),
            "&lt;a href=&quot;x&quot;&gt;&#39;é&#39; &amp; ü&lt;/a&gt;"
        );
        assert_eq!(escaped("&&"), "&amp;&amp;");
    }
}
