//! Aligned tables.
//!
//! Never here: what stands in them.
//! Promises: columns line up; a colour only repeats what the words say already; no line ends in
//! spaces.

use crate::config::Colour;
use crate::follow_up::state::Standing;

/// How much a cell stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ink {
    /// Like the rest.
    Plain,
    /// Somebody has to act.
    Strong,
    /// Somebody should look.
    Marked,
    /// Of little weight.
    Faint,
}

impl From<&Standing> for Ink {
    fn from(standing: &Standing) -> Self {
        match standing {
            Standing::Open => Self::Plain,
            Standing::Suspended | Standing::Paused { .. } => Self::Marked,
            Standing::Stopped { .. } => Self::Strong,
            Standing::Closed => Self::Faint,
        }
    }
}

/// A cell.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    text: String,
    ink: Ink,
}

/// A table.
#[derive(Clone, Debug)]
pub(super) struct Table {
    head: Vec<&'static str>,
    rows: Vec<Vec<Cell>>,
    indent: usize,
}

/// What stands where there is nothing to say.
pub(super) const NOTHING: &str = "–";

impl Cell {
    /// A cell that stands out.
    pub(super) fn inked(text: impl Into<String>, ink: Ink) -> Self {
        Self { text: text.into(), ink }
    }

    /// A cell for what may be missing.
    pub(super) fn maybe(text: Option<String>) -> Self {
        text.map_or_else(|| Self::inked(NOTHING, Ink::Faint), Self::from)
    }

    fn width(&self) -> usize {
        self.text.chars().count()
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::inked(text, Ink::Plain)
    }
}

impl Table {
    /// A table with these columns.
    pub(super) fn new(head: &[&'static str]) -> Self {
        Self { head: head.to_vec(), rows: Vec::new(), indent: 0 }
    }

    /// The same, set in by some spaces.
    pub(super) fn indented(mut self, indent: usize) -> Self {
        self.indent = indent;
        self
    }

    /// Adds a row with a cell for each column.
    pub(super) fn row(&mut self, cells: Vec<Cell>) {
        assert_eq!(cells.len(), self.head.len(), "a row has a cell for each column");
        self.rows.push(cells);
    }

    /// Whether it has no rows.
    pub(super) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table as text, each line with its end.
    pub(super) fn rendered(&self, colour: Colour) -> String {
        let head: Vec<Cell> =
            self.head.iter().map(|name| Cell::inked(name.to_uppercase(), Ink::Faint)).collect();
        let widths: Vec<usize> = (0..self.head.len())
            .map(|column| {
                let cells = self.rows.iter().map(|row| &row[column]).chain([&head[column]]);
                cells.map(Cell::width).max().unwrap_or(0)
            })
            .collect();
        let mut text = String::new();
        for row in std::iter::once(&head).chain(&self.rows) {
            let mut line = " ".repeat(self.indent);
            for (cell, width) in row.iter().zip(&widths) {
                line.push_str(&painted(&cell.text, cell.ink, colour));
                line.push_str(&" ".repeat(width - cell.width() + 2));
            }
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }
}

/// A text in its ink.
pub(super) fn painted(text: &str, ink: Ink, colour: Colour) -> String {
    let code = match (colour, ink) {
        (Colour::Plain, _) | (Colour::Terminal, Ink::Plain) => return text.to_owned(),
        (Colour::Terminal, Ink::Strong) => "1;31",
        (Colour::Terminal, Ink::Marked) => "33",
        (Colour::Terminal, Ink::Faint) => "2",
    };
    format!("\u{1b}[{code}m{text}\u{1b}[0m")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> Table {
        let mut table = Table::new(&["client", "standing", "note"]);
        table.row(vec!["A7".into(), Cell::inked("STOPPED", Ink::Strong), "é".into()]);
        table.row(vec!["Long-1".into(), "open".into(), Cell::maybe(None)]);
        table
    }

    #[test]
    fn columns_line_up_whatever_stands_in_them() {
        assert_eq!(
            sample().rendered(Colour::Plain),
            "CLIENT  STANDING  NOTE\nA7      STOPPED   é\nLong-1  open      –\n"
        );
    }

    #[test]
    fn colours_change_no_word_and_no_column() {
        let coloured = sample().rendered(Colour::Terminal);
        assert!(coloured.contains("\u{1b}[1;31mSTOPPED\u{1b}[0m"));
        let mut plain = coloured;
        for code in ["1;31", "33", "2", "0"] {
            plain = plain.replace(&format!("\u{1b}[{code}m"), "");
        }
        let expected = sample().rendered(Colour::Plain);
        let trimmed: Vec<&str> = plain.lines().map(str::trim_end).collect();
        assert_eq!(trimmed, expected.lines().collect::<Vec<_>>());
    }
}
