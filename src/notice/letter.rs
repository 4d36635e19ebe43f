//! The follow-up report: one page with the fitting, the places and the course, one with findings and
//! decisions. For the record, or for whoever pays for the seat.
//!
//! Never here: how it is set (`letter_html`, `letter_text`), files, judging.
//! Promises: everything is read from the journal and the state that it adds up to; what is left
//! out for want of room is counted; two pages of A4.

use super::page::{Page, Scene};
use super::picture::{Drawing, Width};
use super::setting::{Backdrop, Setting};
use super::{letter_decisions, letter_findings, letter_html, letter_text};
use crate::care::Plan;
use crate::follow_up::state::{Phase, Standing};
use crate::follow_up::{Calendar, Entry, Instant, State};

/// What a report is made from.
#[derive(Clone, Copy, Debug)]
pub struct LetterOf<'a> {
    /// How the follow-up stands.
    pub state: &'a State,
    /// The plan that it is pinned to.
    pub plan: &'a Plan,
    /// Its journal from the first entry on.
    pub entries: &'a [Entry],
    /// Names and languages.
    pub setting: &'a Setting<'a>,
    /// The fitting that it tests, in a few lines in the reader's language; empty where none is on
    /// file.
    pub fitting: &'a [String],
    /// The reader's language tag.
    pub language: &'a str,
    /// When the report is made.
    pub now: Instant,
}

/// A finished report.
#[derive(Clone, PartialEq, Eq)]
pub struct Letter {
    /// As a page that prints to two sheets of A4.
    pub html: String,
    /// The same as plain text.
    pub text: String,
}

/// A report before it is set.
pub(super) struct Sheet {
    pub(super) language: String,
    pub(super) direction: &'static str,
    pub(super) title: String,
    /// Names of facts with the facts.
    pub(super) facts: Vec<(String, String)>,
    pub(super) course: (String, Drawing),
    pub(super) fitting: (String, Vec<String>),
    pub(super) findings: List,
    pub(super) places: (String, Option<Drawing>),
    pub(super) no_marks: String,
    pub(super) decisions: List,
    pub(super) cautions: Vec<String>,
    pub(super) signature: String,
}

/// A table with its heading and what it leaves out.
pub(super) struct List {
    pub(super) heading: String,
    pub(super) head: Vec<String>,
    pub(super) rows: Vec<Vec<String>>,
    pub(super) notes: Vec<String>,
}

/// The report.
pub fn letter(of: LetterOf<'_>) -> Letter {
    let LetterOf { state, plan, entries, setting, language, now, .. } = of;
    let backdrop = Backdrop::default();
    let scene = Scene { at: now, state, plan, setting, backdrop: &backdrop };
    let page = scene.in_language(language);
    let w = page.w;
    let fitting = match of.fitting {
        [] => vec![w.letter_no_fitting()],
        lines => lines.to_vec(),
    };
    let (findings, lines) = letter_findings::list(&page, LINES_MAX / 2);
    let sheet = Sheet {
        language: w.code().to_owned(),
        direction: w.direction(),
        title: w.letter_title(),
        facts: facts(&page, entries),
        course: (w.letter_course(), Drawing::course(w, state, plan, entries, Width::Page)),
        fitting: (w.alert_fitting(), fitting),
        findings,
        places: (w.letter_places(), Drawing::marks(w, state, plan, Width::Page)),
        no_marks: w.letter_no_marks(),
        decisions: letter_decisions::list(&page, entries, LINES_MAX - lines),
        cautions: vec![w.letter_source(&entries.len()), w.caution_clinician()],
        signature: w.letter_signature(),
    };
    Letter { html: letter_html::rendered(&sheet), text: letter_text::rendered(&sheet) }
}

/// Lines of both tables that fit the second page with everything else on it.
const LINES_MAX: usize = 34;

/// Keeps the newest rows that take no more than so many lines, with so many characters on a line of
/// each column; returns how many rows were left out, and how many lines the rest takes.
pub(super) fn keep_newest(
    rows: &mut Vec<Vec<String>>,
    chars: &[usize],
    lines_max: usize,
) -> (usize, usize) {
    let lines = |row: &Vec<String>| {
        let cells = row.iter().zip(chars);
        cells.map(|(cell, chars)| cell.chars().count().div_ceil(*chars)).max().unwrap_or(1)
    };
    let mut used = 0;
    let mut kept = 0;
    for row in rows.iter().rev() {
        if used + lines(row) > lines_max {
            break;
        }
        used += lines(row);
        kept += 1;
    }
    let left_out = rows.len() - kept;
    rows.drain(..left_out);
    (left_out, used)
}

/// `2026-03-06 10:15` on the client's clock: a record names the year.
pub(super) fn stamp(zone: &Calendar, at: Instant) -> String {
    zone.local(at).format("%Y-%m-%d %H:%M").to_string()
}

fn facts(page: &Page<'_>, entries: &[Entry]) -> Vec<(String, String)> {
    let (w, state, plan) = (page.w, page.scene.state, page.scene.plan);
    let zone = &state.terms.zone;
    let until = entries.last().map_or(page.scene.at, |entry| entry.at);
    let plan_line = w.letter_plan_line(&plan.title, &state.terms.plan.short(), &state.terms.risk);
    let limits = w.letter_limits_line(
        &page.duration(plan.looks.fade_limit),
        &page.duration(plan.looks.slow_fade),
    );
    vec![
        (w.letter_client(), format!("{} ({})", page.client(), page.client_ref())),
        (w.letter_clinic(), page.scene.setting.clinic.name.clone()),
        (
            w.letter_period(),
            w.letter_period_line(&state.terms.begins, &stamp(zone, until), &zone.zone_name()),
        ),
        (w.letter_plan(), plan_line),
        (w.letter_limits(), limits),
        (w.letter_standing(), standing(page)),
        (w.letter_made(), stamp(zone, page.scene.at)),
    ]
}

fn standing(page: &Page<'_>) -> String {
    let (w, state) = (page.w, page.scene.state);
    let since = |at| stamp(&state.terms.zone, at);
    match (&state.standing, &state.phase) {
        (Standing::Stopped { step, since: at }, _) => {
            w.letter_stands_stopped(&since(*at), &page.step(*step))
        }
        (Standing::Suspended, _) => w.letter_stands_suspended(),
        (Standing::Paused { since: at, .. }, _) => w.letter_stands_paused(&since(*at)),
        (Standing::Closed, _) => w.letter_stands_closed(),
        (Standing::Open, Phase::BuildUp { step }) => w.letter_stands_open(&page.step(*step)),
        (Standing::Open, Phase::Routine { began, .. }) => w.letter_stands_routine(began),
    }
}
