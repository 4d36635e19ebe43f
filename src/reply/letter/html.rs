//! HTML → text: what a reader sees, with quoted blocks marked by `>` as in plain text.
//!
//! Never here: styles, pictures, scripts.
//! Promises: any text gives an answer in linear time; nothing hidden from the reader is kept.

/// Deepest quotation that is still marked.
const QUOTE_DEPTH_MAX: usize = 12;

/// Elements whose content is not shown.
const HIDDEN: [&str; 6] = ["style", "script", "head", "title", "template", "noscript"];

/// Elements that begin and end a line.
const BLOCKS: [&str; 22] = [
    "p",
    "div",
    "li",
    "ul",
    "ol",
    "tr",
    "table",
    "h1",
    "h2",
    "h3",
    "h4",
    "h5",
    "h6",
    "hr",
    "pre",
    "section",
    "article",
    "header",
    "footer",
    "dd",
    "dt",
    "blockquote",
];

/// The text of an HTML document or fragment.
pub(super) fn to_text(html: &str) -> String {
    let mut writer = Writer::default();
    let mut rest = html;
    while !rest.is_empty() {
        let Some(open) = rest.find('<') else {
            writer.text(rest);
            break;
        };
        writer.text(&rest[..open]);
        rest = &rest[open..];
        let begins_tag = rest[1..]
            .starts_with(|c: char| c.is_ascii_alphabetic() || matches!(c, '/' | '!' | '?'));
        if !begins_tag {
            writer.text("<");
            rest = &rest[1..];
            continue;
        }
        let (tag, after) = cut_tag(rest);
        rest = writer.tag(tag, after);
    }
    writer.finish()
}

/// The tag at the start of the text, and what follows it.
fn cut_tag(text: &str) -> (&str, &str) {
    if let Some(comment) = text.strip_prefix("<!--") {
        let end = comment.find("-->").map_or(comment.len(), |end| end + 3);
        return ("", &comment[end..]);
    }
    let mut quote: Option<char> = None;
    for (i, c) in text.char_indices() {
        match (quote, c) {
            (None, '>') => return (&text[1..i], &text[i + 1..]),
            (None, '"' | '\'') => quote = Some(c),
            (Some(open), close) if open == close => quote = None,
            _ => {}
        }
    }
    // A tag that never ends: an unbalanced quote is taken for text again after the next '>'.
    match text.find('>') {
        Some(end) => (&text[1..end], &text[end + 1..]),
        None => (&text[1..], ""),
    }
}

/// Quoted blocks, and elements inside them, that may be open at once; what stands inside still more
/// is left out. Each tag looks through those that are open, so that a mail of nothing but quotations
/// would hold everybody's mail up for minutes.
const OPEN_QUOTES_MAX: usize = 1000;

#[derive(Default)]
struct Writer {
    lines: Vec<String>,
    line: String,
    /// The open quotations, and the elements inside them of which one of the same name is.
    open: Vec<Open>,
    /// How many of them are quotations.
    depth: usize,
    pending_space: bool,
}

struct Open {
    name: String,
    quotes: bool,
}

impl Writer {
    fn text(&mut self, text: &str) {
        if text.is_empty() {
            return;
        }
        for c in entities(text).chars() {
            if c.is_whitespace() && c != '\u{a0}' {
                self.pending_space = true;
            } else {
                if self.pending_space && !self.line.is_empty() {
                    self.line.push(' ');
                }
                self.pending_space = false;
                self.line.push(if c == '\u{a0}' { ' ' } else { c });
            }
        }
    }

    fn tag<'a>(&mut self, tag: &str, after: &'a str) -> &'a str {
        let closing = tag.starts_with('/');
        let body = tag.trim_start_matches('/');
        let name_end = body.find(|c: char| c.is_whitespace() || c == '/').unwrap_or(body.len());
        let name = body[..name_end].to_ascii_lowercase();
        let attributes = body[name_end..].to_ascii_lowercase();
        if !closing && HIDDEN.contains(&name.as_str()) {
            return skip_element(&name, after);
        }
        if !closing && attributes.contains("display:none") || attributes.contains("display: none") {
            return skip_element(&name, after);
        }
        if self.open.len() >= OPEN_QUOTES_MAX {
            return "";
        }
        let quotes = name == "blockquote" || is_quote(&attributes) || is_bordered(&attributes);
        if name == "br" || BLOCKS.contains(&name.as_str()) {
            self.end_line(name == "br");
        }
        if name == "p" && closing {
            self.end_line(true);
        }
        let in_quote = || self.open.iter().any(|open| open.quotes && open.name == name);
        if !closing && (quotes || in_quote()) && !body.ends_with('/') {
            self.depth += usize::from(quotes);
            self.open.push(Open { name, quotes });
        } else if closing {
            self.close(&name);
        }
        after
    }

    /// Closes the innermost element of that name that is open inside or as a quotation.
    fn close(&mut self, name: &str) {
        if let Some(at) = self.open.iter().rposition(|open| open.name == name) {
            self.depth -= self.open[at..].iter().filter(|open| open.quotes).count();
            self.open.truncate(at);
        }
    }

    fn end_line(&mut self, even_if_empty: bool) {
        self.pending_space = false;
        let depth = self.depth.min(QUOTE_DEPTH_MAX);
        let line = std::mem::take(&mut self.line);
        if line.trim().is_empty() && !even_if_empty {
            return;
        }
        let mark = if depth > 0 { format!("{} ", ">".repeat(depth)) } else { String::new() };
        self.lines.push(format!("{mark}{}", line.trim()));
    }

    fn finish(mut self) -> String {
        self.end_line(false);
        self.lines.join("\n")
    }
}

/// Whether an element's class or id says that it holds a quotation.
fn is_quote(attributes: &str) -> bool {
    ["class=", "id="].iter().any(|name| {
        attributes.split(name).skip(1).any(|value| {
            let value = value.trim_start_matches(['"', '\'']);
            let end = value.find(['"', '\'', '>']).unwrap_or(value.len());
            let value = &value[..end];
            (value.contains("quote") || value.contains("cite_prefix"))
                && !value.contains("container")
        })
    })
}

/// Whether an element's own style draws a line at its left and sets its text off from it, as
/// programs do that know no `blockquote`.
fn is_bordered(attributes: &str) -> bool {
    let Some((_, style)) = attributes.split_once("style=") else { return false };
    let style = style.trim_start_matches(['"', '\'']);
    let style = &style[..style.find(['"', '\'']).unwrap_or(style.len())];
    let drawn = |rule: &str| {
        let Some((name, value)) = rule.split_once(':') else { return false };
        let lined = !value.contains("none") && !value.trim_start().starts_with('0');
        name.trim() == "border-left" && lined
    };
    style.split(';').any(drawn) && style.contains("padding-left")
}

/// What follows the end of an element that is not shown.
fn skip_element<'a>(name: &str, after: &'a str) -> &'a str {
    match find_tag(after, &format!("</{name}")) {
        Some(at) => after[at..].find('>').map_or("", |end| &after[at + end + 1..]),
        None if name == "head" => find_tag(after, "<body").map_or("", |at| &after[at..]),
        None => "",
    }
}

/// Where a tag begins, in whatever case. Reads no further than to there: a page of nothing but
/// hidden elements must not be read anew for each of them.
fn find_tag(text: &str, tag: &str) -> Option<usize> {
    text.as_bytes().windows(tag.len()).position(|at| at.eq_ignore_ascii_case(tag.as_bytes()))
}

fn entities(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let end = rest[1..].find(|c: char| !(c.is_ascii_alphanumeric() || c == '#')).map(|e| e + 1);
        let name = &rest[1..end.unwrap_or(rest.len())];
        match named(name) {
            Some(c) => {
                out.push(c);
                rest = &rest[1 + name.len()..];
                rest = rest.strip_prefix(';').unwrap_or(rest);
            }
            None => {
                out.push('&');
                rest = &rest[1..];
            }
        }
    }
    out.push_str(rest);
    out
}

fn named(name: &str) -> Option<char> {
    if let Some(number) = name.strip_prefix('#') {
        let code = match number.strip_prefix(['x', 'X']) {
            Some(hex) => u32::from_str_radix(hex, 16).ok()?,
            None => number.parse().ok()?,
        };
        return char::from_u32(code);
    }
    Some(match name {
        "amp" => '&',
        "lt" => '<',
        "gt" => '>',
        "quot" => '"',
        "apos" => '\'',
        "nbsp" => '\u{a0}',
        "ndash" => '–',
        "mdash" => '—',
        "hellip" => '…',
        "lsquo" => '‘',
        "rsquo" => '’',
        "ldquo" => '“',
        "rdquo" => '”',
        "laquo" => '«',
        "raquo" => '»',
        "bull" => '•',
        "pound" => '£',
        "euro" => '€',
        "deg" => '°',
        "frac12" => '½',
        "iquest" => '¿',
        "iexcl" => '¡',
        "shy" => '\u{ad}',
        "zwnj" => '\u{200c}',
        "eacute" => 'é',
        "Eacute" => 'É',
        "egrave" => 'è',
        "ecirc" => 'ê',
        "euml" => 'ë',
        "agrave" => 'à',
        "aacute" => 'á',
        "acirc" => 'â',
        "iacute" => 'í',
        "icirc" => 'î',
        "iuml" => 'ï',
        "oacute" => 'ó',
        "ocirc" => 'ô',
        "uacute" => 'ú',
        "ugrave" => 'ù',
        "ucirc" => 'û',
        "ntilde" => 'ñ',
        "ccedil" => 'ç',
        "auml" => 'ä',
        "Auml" => 'Ä',
        "ouml" => 'ö',
        "Ouml" => 'Ö',
        "uuml" => 'ü',
        "Uuml" => 'Ü',
        "szlig" => 'ß',
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn styles_comments_and_hidden_text_are_not_shown() {
        let html = "<head><style>p{color:red}</style></head><!-- red --><p>no m<b>arks</b></p>\
                    <div style=\"display:none\">blister</div>";
        assert_eq!(to_text(html).trim(), "no marks");
    }

    #[test]
    fn what_stands_inside_countless_quotations_is_left_out() {
        let html = format!("<p>yes</p>{}no", "<blockquote>".repeat(100_000));
        assert_eq!(to_text(&html).trim(), "yes");
    }

    #[test]
    fn quoted_blocks_are_marked_at_their_depth() {
        let html = "<p>gone</p><blockquote>A<blockquote>B</blockquote></blockquote><p>thanks";
        assert_eq!(to_text(html), "gone\n\n> A\n>> B\nthanks");
        let html = "<div>yes</div><div class=\"x_quote\"><div>no</div></div><div>end</div>";
        assert_eq!(to_text(html), "yes\n> no\nend");
        let lined =
            "<div style=\"border-left:2px solid #11f;padding-left:5px\"><div>no</div></div>";
        assert_eq!(to_text(&format!("<div>yes</div>{lined}")), "yes\n> no");
        let plain = "<div style=\"border-left:none;padding-left:5px\">yes</div>";
        assert_eq!(to_text(plain), "yes");
    }

    #[test]
    fn entities_are_spelled_out_and_broken_ones_stay() {
        assert_eq!(
            to_text("skin&rsquo;s fine &amp;&nbsp;dry &#x1f642; &unknown; a < b"),
            "skin’s fine & dry 🙂 &unknown; a < b"
        );
    }
}
