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
const PAGE_BYTES: usize = 16 * 1024;

/// The page of a draft, with answers going to `reply_address`.
pub(super) fn rendered(draft: &Draft, reply_address: &str) -> String {
    let Draft { language, direction, .. } = draft;
    let (language, title) = (escaped(language), escaped(&draft.subject));
    let mut body = String::with_capacity(PAGE_BYTES);
    for block in &draft.blocks {
        body.push_str(&shown(draft, block, reply_address));
    }
    let text = both(TEXT);
    format!(
        "<!doctype html>\n\
         <html lang=\"{language}\" dir=\"{direction}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{title}</title>\n</head>\n\
         <body style=\"margin:0;padding:0;{text}\">\n\
         <div lang=\"{language}\" dir=\"{direction}\" style=\"box-sizing:border-box;\
         max-width:600px;margin:0 auto;padding:16px;font-family:-apple-system,'Segoe UI',Roboto,\
         'Noto Sans',Arial,sans-serif;font-size:17px;line-height:1.45;overflow-wrap:break-word;\
         {text}\">\n{body}</div>\n</body>\n</html>\n"
    )
}

fn shown(draft: &Draft, block: &Block, reply_address: &str) -> String {
    match block {
        Block::Lead(text) => {
            let style = if draft.urgency == Urgency::Alert {
                format!("padding:12px 14px;border-radius:8px;{}", both(ALERT))
            } else {
                String::new()
            };
            format!(
                "<h1 style=\"margin:0 0 14px;font-size:20px;line-height:1.3;{style}\">{}</h1>\n",
                escaped(text)
            )
        }
        Block::Line(text) => format!("<p style=\"margin:0 0 14px\">{}</p>\n", escaped(text)),
        Block::Heading(text) => format!(
            "<h2 style=\"margin:20px 0 8px;font-size:17px;line-height:1.3\">{}</h2>\n",
            escaped(text)
        ),
        Block::Urgent(text) => format!(
            "<p style=\"margin:18px 0 10px;padding-inline-start:10px;\
             border-inline-start:4px solid {};font-size:15px;line-height:1.4;{}\">{}</p>\n",
            ALERT.ground,
            both(TEXT),
            escaped(text)
        ),
        Block::Small(text) => format!(
            "<p style=\"margin:0 0 8px;font-size:15px;line-height:1.4;{}\">{}</p>\n",
            both(SMALL),
            escaped(text)
        ),
        Block::Quote { words, .. } => format!(
            "<blockquote style=\"margin:0 0 14px;padding:10px 14px;border-radius:8px;{}\">\
             {}</blockquote>\n",
            both(QUOTE),
            escaped(words).replace('\n', "<br>")
        ),
        Block::Answers(group) => answers(draft, group, reply_address),
        Block::Part(of) => part(of),
        Block::Table { head, rows } => table(head, rows),
        Block::Ordered(items) => list("ol", items),
        Block::Unordered(items) => list("ul", items),
        Block::Picture { picture, .. } => format!(
            "<p style=\"margin:0 0 14px\"><img src=\"cid:{}\" alt=\"{}\" \
             style=\"display:block;width:100%;max-width:568px;height:auto;border:0\"></p>\n",
            escaped(&picture.content_id),
            escaped(&picture.described)
        ),
    }
}

/// What is about one client: the answers stand beside each other, for there are many parts.
fn part(part: &Part) -> String {
    let Pair { ink, .. } = BUTTON;
    let mut out = format!(
        "<h2 style=\"margin:22px 0 6px;padding-top:10px;border-top:1px solid {ink};font-size:17px;\
         line-height:1.3\">{}</h2>\n",
        escaped(&part.heading)
    );
    for line in &part.lines {
        out.push_str(&format!("<p style=\"margin:0 0 8px\">{}</p>\n", escaped(line)));
    }
    out.push_str("<p style=\"margin:0 0 14px\">");
    for answer in &part.answers {
        out.push_str(&format!(
            "<a href=\"{}\" style=\"display:inline-block;box-sizing:border-box;min-height:48px;\
             margin:0 8px 8px 0;padding:11px 13px;border:2px solid {ink};border-radius:10px;\
             font-weight:bold;font-size:15px;line-height:1.3;text-decoration:none;{}\">{}</a>\n",
            escaped(&part.link(answer)),
            both(BUTTON),
            escaped(&answer.label),
        ));
    }
    out.push_str("</p>\n");
    out
}

fn answers(draft: &Draft, group: &Answers, reply_address: &str) -> String {
    let Pair { ink, .. } = BUTTON;
    let mut out =
        format!("<p style=\"margin:0 0 8px;font-weight:bold\">{}</p>\n", escaped(&group.tap));
    for answer in &group.answers {
        let meaning = answer.meaning.as_ref().map_or_else(String::new, |meaning| {
            format!("<br><span style=\"font-weight:normal\">{}</span>", escaped(meaning))
        });
        out.push_str(&format!(
            "<p style=\"margin:0 0 10px\"><a href=\"{}\" style=\"display:block;\
             box-sizing:border-box;min-height:48px;padding:12px 14px;border:2px solid {ink};\
             border-radius:10px;font-weight:bold;line-height:1.3;text-decoration:none;\
             {}\">{}{meaning}</a></p>\n",
            escaped(&draft.link(reply_address, answer)),
            both(BUTTON),
            escaped(&answer.label),
        ));
    }
    out
}

/// Up to this length a cell with a number stays on one line: a duration such as `1 h 30 min`.
const UNBROKEN_CHARS_MAX: usize = 10;

fn table(head: &[String], rows: &[Vec<String>]) -> String {
    let cell =
        "padding:6px 6px;text-align:start;vertical-align:top;border-bottom:1px solid #9aa4af";
    let head: String = head
        .iter()
        .map(|text| {
            format!("<th scope=\"col\" style=\"{cell};{}\">{}</th>", both(HEAD), escaped(text))
        })
        .collect();
    let rows: String = rows
        .iter()
        .map(|cells| {
            let cells: String = cells
                .iter()
                .map(|text| {
                    let is_short = text.chars().count() <= UNBROKEN_CHARS_MAX;
                    let is_unbroken = is_short && text.contains(|c: char| c.is_ascii_digit());
                    let wrap = if is_unbroken { ";white-space:nowrap" } else { "" };
                    format!("<td style=\"{cell}{wrap};{}\">{}</td>", both(TEXT), escaped(text))
                })
                .collect();
            format!("<tr>{cells}</tr>\n")
        })
        .collect();
    format!(
        "<table style=\"width:100%;margin:0 0 14px;border-collapse:collapse;font-size:15px;\
         line-height:1.35\">\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n"
    )
}

fn list(tag: &str, items: &[String]) -> String {
    let items: String = items
        .iter()
        .map(|item| format!("<li style=\"margin:0 0 6px\">{}</li>\n", escaped(item)))
        .collect();
    format!("<{tag} style=\"margin:0 0 14px;padding-inline-start:24px\">\n{items}</{tag}>\n")
}

fn both(Pair { ink, ground }: Pair) -> String {
    format!("color:{ink};background-color:{ground}")
}

/// A text that cannot break out of where it stands.
pub(super) fn escaped(text: &str) -> Cow<'_, str> {
    let marked = |c: char| matches!(c, '&' | '<' | '>' | '"' | '\'');
    let Some(mut at) = text.find(marked) else { return Cow::Borrowed(text) };
    let mut out = String::with_capacity(text.len() + text.len() / 8 + 16);
    let mut rest = text;
    loop {
        out.push_str(&rest[..at]);
        out.push_str(match rest.as_bytes()[at] {
            b'&' => "&amp;",
            b'<' => "&lt;",
            b'>' => "&gt;",
            b'"' => "&quot;",
            _ => "&#39;",
        });
        rest = &rest[at + 1..];
        match rest.find(marked) {
            Some(next) => at = next,
            None => break,
        }
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
