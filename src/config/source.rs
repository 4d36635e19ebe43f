//! One file as people see it: its name, its text, and where in it something stands.
//!
//! Never here: reading the file, knowing what a setting means.
//! Promises: a place counts lines and columns from 1, and columns in characters, not bytes.

use std::fmt;
use std::ops::Range;

/// A named text that problems point into.
#[derive(PartialEq, Eq)]
pub struct Source {
    name: String,
    text: String,
}

/// Where something stands in a text, both counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// The line.
    pub line: usize,
    /// The column, in characters.
    pub column: usize,
}

impl Source {
    /// A text under the name that people know it by. A byte order mark is dropped: it says nothing.
    pub fn new(name: &str, text: &str) -> Self {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        Self { name: name.to_owned(), text: text.to_owned() }
    }

    /// The name, usually a path as it was given.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The line and column of a byte offset; an offset past the end counts as the end.
    pub fn position(&self, offset: usize) -> Position {
        let before = &self.text[..self.floor(offset)];
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Position {
            line: before.bytes().filter(|b| *b == b'\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
        }
    }

    /// The whole lines that a span touches, without the last line's end.
    pub(super) fn lines_around(&self, span: &Range<usize>) -> Range<usize> {
        let start = self.floor(span.start);
        let end = self.floor(span.end).max(start);
        let from = self.text[..start].rfind('\n').map_or(0, |newline| newline + 1);
        let to = self.text[end..].find('\n').map_or(self.text.len(), |newline| end + newline);
        from..to
    }

    /// The nearest character boundary at or before an offset.
    pub(super) fn floor(&self, offset: usize) -> usize {
        self.text.floor_char_boundary(offset)
    }
}

/// Prints the name only: the text may hold names and addresses of people.
impl fmt::Debug for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Source").field(&self.name).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_and_a_byte_order_mark_is_not_one() {
        let source = Source::new("x.toml", "\u{feff}a = 1\nü = 2\n");
        assert_eq!(source.position(0), Position { line: 1, column: 1 });
        assert_eq!(source.position(11), Position { line: 2, column: 5 });
        assert_eq!(source.position(999), Position { line: 3, column: 1 });
    }

    #[test]
    fn debug_output_holds_nothing_of_the_text() {
        let source = Source::new("x.toml", "name = \"Marker Person\"");
        assert!(!format!("{source:?}").contains("Marker"));
    }
}
