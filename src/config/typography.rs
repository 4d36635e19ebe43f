//! Undoes what a word processor does to a settings file: curly quotes and unbreakable spaces.
//!
//! Never here: other mistakes; changing the file itself.
//! Promises: the text that comes back is as long as before, byte for byte, so every place stays
//! right; nothing inside comments or inside proper strings is touched.

use std::ops::Range;

/// A character that a word processor put where TOML wants a plain one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Typeset {
    /// Where it stands.
    pub(super) span: Range<usize>,
    /// What it stands for.
    pub(super) plain: Plain,
}

/// The plain character that was meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Plain {
    /// `"`
    Quote,
    /// A space.
    Space,
}

/// The text with plain characters in place of typeset ones, and where those were.
pub(super) fn made_plain(text: &str) -> (String, Vec<Typeset>) {
    let mut plain = Plainer { out: String::with_capacity(text.len()), found: Vec::new() };
    let mut multi_line: Option<&str> = None;
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        multi_line = plain.line(at, line, multi_line);
        at += line.len();
    }
    (plain.out, plain.found)
}

/// The string that a line is inside of: what ends it.
enum Inside {
    Nothing,
    Straight(char),
    Curly,
}

struct Plainer {
    out: String,
    found: Vec<Typeset>,
}

impl Plainer {
    /// Copies one line; returns the delimiter of a multi-line string that runs on after it.
    fn line<'d>(&mut self, at: usize, line: &str, mut multi: Option<&'d str>) -> Option<&'d str> {
        let mut inside = Inside::Nothing;
        let mut offset = 0;
        while let Some(c) = line[offset..].chars().next() {
            let rest = &line[offset..];
            let span = at + offset..at + offset + c.len_utf8();
            let mut taken = c.len_utf8();
            match (&inside, multi) {
                (_, Some(delimiter)) if rest.starts_with(delimiter) => {
                    self.out.push_str(delimiter);
                    taken = delimiter.len();
                    multi = None;
                }
                (_, Some(_)) => self.out.push(c),
                (Inside::Nothing, None) => match c {
                    '#' => {
                        self.out.push_str(rest);
                        return None;
                    }
                    '"' | '\'' => {
                        if let Some(delimiter) = multi_line_opening(rest) {
                            self.out.push_str(delimiter);
                            taken = delimiter.len();
                            multi = Some(delimiter);
                        } else {
                            self.out.push(c);
                            if closes_on_this_line(&rest[1..], c) {
                                inside = Inside::Straight(c);
                            } else {
                                inside = Inside::Curly;
                            }
                        }
                    }
                    c if is_curly(c) => {
                        self.replace(span, Plain::Quote, Pad::Before);
                        inside = Inside::Curly;
                    }
                    '\u{a0}' | '\u{202f}' => self.replace(span, Plain::Space, Pad::Before),
                    _ => self.out.push(c),
                },
                (Inside::Straight(end), None) => {
                    self.out.push(c);
                    if c == *end {
                        inside = Inside::Nothing;
                    } else if let Some(escaped) = escaped_after(rest, *end) {
                        self.out.push(escaped);
                        taken += escaped.len_utf8();
                    }
                }
                (Inside::Curly, None) => {
                    if is_curly(c) {
                        self.replace(span, Plain::Quote, Pad::After);
                        inside = Inside::Nothing;
                    } else {
                        self.out.push(c);
                        if c == '"' {
                            inside = Inside::Nothing;
                        }
                    }
                }
            }
            offset += taken;
        }
        multi
    }

    fn replace(&mut self, span: Range<usize>, plain: Plain, pad: Pad) {
        let padding = " ".repeat(span.len() - 1);
        let c = match plain {
            Plain::Quote => '"',
            Plain::Space => ' ',
        };
        match pad {
            Pad::Before => {
                self.out.push_str(&padding);
                self.out.push(c);
            }
            Pad::After => {
                self.out.push(c);
                self.out.push_str(&padding);
            }
        }
        self.found.push(Typeset { span, plain });
    }
}

/// On which side of a plain character the left-over bytes become spaces, outside the string.
enum Pad {
    Before,
    After,
}

/// The character after a backslash, where the string is one with escapes.
fn escaped_after(rest: &str, end: char) -> Option<char> {
    let after = rest.strip_prefix('\\')?;
    (end == '"').then(|| after.chars().next()).flatten()
}

fn multi_line_opening(rest: &str) -> Option<&'static str> {
    ["\"\"\"", "'''"].into_iter().find(|delimiter| rest.starts_with(delimiter))
}

fn closes_on_this_line(rest: &str, quote: char) -> bool {
    let mut escaped = false;
    for c in rest.chars() {
        if c == quote && !escaped {
            return true;
        }
        escaped = c == '\\' && quote == '"' && !escaped;
    }
    false
}

fn is_curly(c: char) -> bool {
    matches!(
        c,
        '\u{201c}'
            | '\u{201d}'
            | '\u{201e}'
            | '\u{201f}'
            | '\u{2018}'
            | '\u{2019}'
            | '\u{201a}'
            | '\u{ab}'
            | '\u{bb}'
    )
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn check(text: &str, expected: &str, count: usize) {
        let (plain, found) = made_plain(text);
        assert_eq!(plain, expected);
        assert_eq!(found.len(), count);
    }

    #[test]
    fn curly_quotes_around_a_value_become_straight_ones_of_the_same_length() {
        check("a = “10 min”\n", "a =   \"10 min\"  \n", 2);
        check("a = „10 min“\n", "a =   \"10 min\"  \n", 2);
        check("a = \"10 min”\n", "a = \"10 min\"  \n", 1);
    }

    #[test]
    fn curly_quotes_inside_strings_and_comments_stay() {
        let text = "a = \"the “new” seat\" # “x”\nb = \"\"\"\n“y”\n\"\"\"\nc = 'z’s'\n";
        check(text, text, 0);
    }

    proptest! {
        #[test]
        fn the_length_never_changes(text in "[a=\"'\\\\#“”„’\u{a0}\n]{0,60}") {
            let (plain, _) = made_plain(&text);
            prop_assert_eq!(plain.len(), text.len());
        }
    }
}
