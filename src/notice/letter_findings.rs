//! The findings of a report: every sitting and routine look with anything but 'no marks'.
//!
//! Never here: judging. Promises: what is not listed is counted; a look that nobody answered is
//! listed, and never as 'no marks'.

use super::letter::{List, keep_newest, stamp};
use super::page::Page;
use super::sittings_table;
use crate::follow_up::event::LookKind;
use crate::follow_up::state::Look;

/// How many characters of each column stand on one line in print, rather fewer than more.
const CHARS: [usize; 4] = [20, 12, 62, 14];

/// The findings, oldest first; the newest that take no more than so many lines,
/// and how many lines they take.
pub(super) fn list(page: &Page<'_>, lines_max: usize) -> (List, usize) {
    let (w, state) = (page.w, page.scene.state);
    let zone = &state.terms.zone;
    let mut rows = Vec::new();
    let mut clear: u32 = 0;
    for sitting in state.sittings() {
        if sittings_table::is_clear(page, sitting) {
            clear += 1;
        } else {
            let mut row = sittings_table::row(page, sitting);
            row[0] = stamp(zone, sitting.start);
            rows.push((sitting.start, row));
        }
    }
    for look in state.looks().filter(|look| look.kind == LookKind::Routine) {
        let recheck = look.recheck.map(|id| state.look(id));
        let looks: Vec<&Look> = [Some(look), recheck].into_iter().flatten().collect();
        if sittings_table::are_clear(&looks) {
            continue;
        }
        let (finding, fade) = sittings_table::of_looks(page, &looks);
        let row = vec![stamp(zone, look.due), w.picture_routine_look(), finding, fade];
        rows.push((look.due, row));
    }
    rows.sort_by_key(|(at, _)| *at);
    let mut rows: Vec<Vec<String>> = rows.into_iter().map(|(_, row)| row).collect();
    let (left_out, lines) = keep_newest(&mut rows, &CHARS, lines_max);
    let mut notes = Vec::new();
    if clear > 0 {
        notes.push(w.letter_clear(&w.counted("count.sittings", clear)));
    }
    if left_out > 0 {
        notes.push(w.letter_earlier(&left_out));
    }
    let list = List {
        heading: w.letter_findings(),
        head: vec![w.column_sitting(), w.column_duration(), w.column_finding(), w.column_fade()],
        rows,
        notes,
    };
    (list, lines)
}
