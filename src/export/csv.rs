//! The looks of one client for a spreadsheet: one line a look (RFC 4180).
//!
//! Never here: names, addresses, words of people.
//! Promises: no cell can be taken for a formula; a look that nobody answered says so in a word of
//! its own; times are by the client's clock.

use super::dossier::Dossier;
use crate::care::Minutes;
use crate::follow_up::event::LookKind;
use crate::follow_up::state::{Course, Look, LookStatus, Outcome, Sitting};
use crate::follow_up::{Calendar, Instant, SittingNumber};

/// What the columns are.
const HEAD: [&str; 17] = [
    "client",
    "time_zone",
    "look",
    "kind",
    "sitting",
    "step",
    "planned_minutes",
    "sitting_start",
    "due",
    "first_asked",
    "times_asked",
    "answer",
    "looked_at",
    "answered_at",
    "answered_by",
    "sites",
    "fade_minutes",
];
/// What the sitting came to, beside the look.
const OUTCOME: &str = "sitting_outcome";

/// The looks as CSV, with a line that names the columns.
///
/// # Panics
/// Never: it is written into memory.
pub fn csv(of: &Dossier) -> Vec<u8> {
    let mut writer =
        ::csv::WriterBuilder::new().terminator(::csv::Terminator::CRLF).from_writer(Vec::new());
    let written = "OK because writing into memory cannot fail";
    writer.write_record(HEAD.into_iter().chain([OUTCOME])).expect(written);
    for look in of.state.looks() {
        let sitting = look.sitting.map(|number| of.state.sitting(number));
        let cells = line(of, look, sitting);
        writer.write_record(cells.iter().map(|cell| harmless(cell))).expect(written);
    }
    writer.into_inner().expect(written)
}

fn line(of: &Dossier, look: &Look, sitting: Option<&Sitting>) -> Vec<String> {
    let zone = &of.state.terms.zone;
    let found = look.found.as_ref();
    let sites = found.map(|found| found.sites.as_slice()).unwrap_or_default();
    let sites: Vec<String> = sites.iter().map(ToString::to_string).collect();
    let at = |at: Option<Instant>| at.map(|at| clock(zone, at)).unwrap_or_default();
    let count = |minutes: Option<Minutes>| {
        minutes.map(|minutes| minutes.count().to_string()).unwrap_or_default()
    };
    vec![
        of.client.to_string(),
        zone.zone_name().to_owned(),
        look.id.to_string(),
        kind(look.kind).to_owned(),
        look.sitting.map(|number: SittingNumber| number.to_string()).unwrap_or_default(),
        sitting.map(|sitting| sitting.step.to_string()).unwrap_or_default(),
        count(sitting.map(|sitting| sitting.sit)),
        at(sitting.map(|sitting| sitting.start)),
        clock(zone, look.due),
        at(look.clock.as_ref().map(|clock| clock.first_asked)),
        look.requests.len().to_string(),
        answer(look),
        at(found.map(|found| found.looked_at)),
        at(found.map(|found| found.said_at)),
        found.map(|found| found.by.to_string()).unwrap_or_default(),
        sites.join(" "),
        count(found.and_then(|found| found.fade)),
        sitting.map(outcome).unwrap_or_default().to_owned(),
    ]
}

/// The finding, or why there is none.
fn answer(look: &Look) -> String {
    match (&look.found, look.status) {
        (Some(found), _) => found.finding.reading().name().to_owned(),
        (None, LookStatus::Missed) => "NOT ANSWERED".to_owned(),
        (None, LookStatus::Open) => "waiting".to_owned(),
        (None, LookStatus::Planned) => "not asked yet".to_owned(),
        (None, LookStatus::Withdrawn { .. } | LookStatus::Answered) => "withdrawn".to_owned(),
    }
}

fn outcome(sitting: &Sitting) -> &'static str {
    match (sitting.course, sitting.outcome) {
        (Course::Cancelled, _) => "did not take place",
        (Course::Stopped, _) => "stopped",
        (_, Some(Outcome::Credit { .. })) => "credit",
        (_, Some(Outcome::NoCredit { .. })) => "no credit",
        (_, None) => "under way",
    }
}

fn kind(kind: LookKind) -> &'static str {
    match kind {
        LookKind::First => "first",
        LookKind::Recheck => "recheck",
        LookKind::Routine => "routine",
    }
}

/// `2026-03-06 10:15`: a spreadsheet in any language takes it for a time.
fn clock(zone: &Calendar, at: Instant) -> String {
    zone.local(at).format("%Y-%m-%d %H:%M").to_string()
}

/// A cell that no spreadsheet takes for a formula: what begins like one gets an apostrophe before
/// it (common practice against formula injection, no source).
fn harmless(cell: &str) -> String {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::harmless;

    #[test]
    fn no_cell_can_be_taken_for_a_formula() {
        for cell in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"] {
            assert!(harmless(cell).starts_with('\''), "{cell:?}");
        }
        for cell in ["A7", "2026-03-06 10:15", "ischium-left", "", "Etc/GMT-3"] {
            assert_eq!(harmless(cell), cell);
        }
    }
}
