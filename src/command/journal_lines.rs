//! The journal of one follow-up as a table: time, rule, what happened, what made it happen.
//!
//! Never here: choosing what to show, its words (`overview`).
//! Promises: oldest first; the time is the client's; a line names the rule that was followed.

use super::table::{Cell, Ink, Table};
pub(super) use crate::overview::journal_lines::{Line, because_of, newest};

/// Lines as a table.
pub(super) fn table(lines: &[Line]) -> Table {
    let mut table = Table::new(&["time", "rule", "what", "because of"]);
    for line in lines {
        let ink = if line.told.starts_with("STOPPED") { Ink::Strong } else { Ink::Plain };
        table.row(vec![
            line.shown_at.as_str().into(),
            line.rule.as_str().into(),
            Cell::inked(line.told.as_str(), ink),
            Cell::inked(because_of(line), Ink::Faint),
        ]);
    }
    table
}
