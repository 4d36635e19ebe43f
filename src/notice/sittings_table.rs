//! The last sittings of a follow-up as a small table, newest first.
//!
//! Never here: the course as a picture.
//! Promises: a look that nobody answered shows, and is never shown as 'no marks'.

use std::collections::BTreeSet;

use super::draft::Block;
use super::page::Page;
use crate::care::{Finding, Site};
use crate::follow_up::state::{Course, Look, LookStatus, Sitting};

/// How many sittings fit a phone without scrolling past the decisions.
const ROWS_MAX: usize = 5;

/// The table; none before the first sitting.
pub(super) fn last_sittings(page: &Page<'_>) -> Option<Block> {
    let w = page.w;
    let state = page.scene.state;
    if state.sittings_count() == 0 {
        return None;
    }
    let head = vec![w.column_sitting(), w.column_duration(), w.column_finding(), w.column_fade()];
    let rows = state.sittings().rev().take(ROWS_MAX).map(|sitting| row(page, sitting)).collect();
    Some(Block::Table { head, rows })
}

/// A sitting as a row: when, how long planned, what was seen, after how long it had gone.
pub(super) fn row(page: &Page<'_>, sitting: &Sitting) -> Vec<String> {
    let state = page.scene.state;
    let (finding, fade) = if sitting.course == Course::Cancelled {
        (page.w.finding_cancelled(), page.w.column_none())
    } else {
        of_looks(page, &looks_of(page, sitting))
    };
    let start = page.w.row_time(&state.terms.zone, sitting.start);
    vec![start, page.duration(sitting.sit), finding, fade]
}

/// Whether a sitting took place and each of its looks was answered with 'no marks'.
pub(super) fn is_clear(page: &Page<'_>, sitting: &Sitting) -> bool {
    sitting.course == Course::Ran && !sitting.cut_short && are_clear(&looks_of(page, sitting))
}

/// Whether each look was answered in time with 'no marks'.
pub(super) fn are_clear(looks: &[&Look]) -> bool {
    looks
        .iter()
        .all(|look| look.status == LookStatus::Answered && look.finding() == Some(Finding::Clear))
}

/// What was seen at looks that belong together, and after how long it had gone.
pub(super) fn of_looks(page: &Page<'_>, looks: &[&Look]) -> (String, String) {
    let fade = looks.iter().filter_map(|look| look.found.as_ref()?.fade).max();
    let fade = match (worst(looks), fade) {
        (Some(Finding::Faded), Some(fade)) => page.duration(fade),
        (Some(Finding::Persisting), _) => page.w.column_not_gone(),
        _ => page.w.column_none(),
    };
    (outcome(page, looks), fade)
}

fn looks_of<'a>(page: &Page<'a>, sitting: &Sitting) -> Vec<&'a Look> {
    sitting.looks.iter().map(|id| page.scene.state.look(*id)).collect()
}

/// The worst that stands. A mark whose recheck says that it has gone counts as gone.
fn worst(looks: &[&Look]) -> Option<Finding> {
    let standing = |look: &&&Look| {
        let recheck = look.recheck.and_then(|id| looks.iter().find(|other| other.id == id));
        recheck.is_none_or(|recheck| recheck.found.is_none())
    };
    let finding = looks.iter().filter(standing).filter_map(|look| look.finding()).max();
    // `clear` at a recheck says that the mark has gone (R6).
    let had_mark = looks.iter().any(|look| look.recheck.is_some() && look.found.is_some());
    match finding {
        Some(Finding::Clear) if had_mark => Some(Finding::Faded),
        other => other,
    }
}

fn outcome(page: &Page<'_>, looks: &[&Look]) -> String {
    let w = page.w;
    let is_missed = looks.iter().any(|look| look.status == LookStatus::Missed);
    let finding = match worst(looks) {
        Some(Finding::Clear) | None if is_missed => return w.finding_missed(),
        None if looks.iter().any(|look| look.is_unsettled()) => return w.finding_open(),
        None => return w.finding_withdrawn(),
        Some(finding) => named(page, finding),
    };
    let sites: BTreeSet<&Site> = looks
        .iter()
        .filter_map(|look| look.found.as_ref())
        .flat_map(|found| &found.sites)
        .collect();
    if sites.is_empty() { finding } else { w.finding_at(&finding, &w.sites(sites)) }
}

/// A finding in words.
pub(super) fn named(page: &Page<'_>, finding: Finding) -> String {
    match finding {
        Finding::Clear => page.w.finding_clear(),
        Finding::Faded => page.w.finding_faded(),
        Finding::Marked => page.w.finding_marked(),
        Finding::Persisting => page.w.finding_persisting(),
        Finding::Alarming => page.w.finding_alarming(),
    }
}
