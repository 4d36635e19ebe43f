//! Reads a fitting: the `[fitting]` table of a client file, or of a file of its own.
//!
//! Never here: whether the fit is good enough (`review`); keeping it.
//! Promises: every check has a result; nothing that was not found is filled in; no site is both
//! off-loaded and loaded.

use chrono::NaiveDate;

use super::fitting_keys::FITTING_FILE;
use super::shape::nearest;
use super::table::{At, Table};
use crate::care::fitting::{
    BuildUp, Check, CheckResult, Checked, Checks, ClearanceFound, ClearanceHow, ComfortFill,
    FreeWords, Imprint, Legs, Levelled, Obliquity, ObliquityKind, Pelvis, ThighSupports,
};
use crate::care::site::all_sites;
use crate::care::{Clearance, ClientRef, Fitting, RiskLevel, Side, Site};

use super::client::{CLIENT, level};
use super::clinic::Clinic;
use super::document::Document;
use super::problem::{Checked as CheckedFile, Problems, Purpose};

/// A fitting as a file has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FittingFile {
    /// The fitting.
    pub fitting: Fitting,
    /// Whose it is, where the file is a client file.
    pub client: Option<ClientRef>,
    /// The client's risk level, where the file is a client file and names one.
    pub risk: Option<RiskLevel>,
}

/// Reads the fitting out of a client file, or out of a file that has only `[fitting]`. `today` is
/// the day in the clinic's zone; the clinic maps risk scores, where one is at hand.
///
/// # Errors
/// All problems, when there is no usable fitting.
pub fn parse_fitting(
    name: &str,
    text: &str,
    clinic: Option<&Clinic>,
    today: NaiveDate,
) -> Result<CheckedFile<FittingFile>, Problems> {
    let (file, problems) = Document::new(name, text).read(Purpose::Serve, |map, report| {
        let is_client = map.contains_key("ref") || map.contains_key("contact");
        if !is_client {
            let root = Table::root(map, &FITTING_FILE, report);
            let fitting = fitting(&root.table("fitting")?, today)?;
            return Some(FittingFile { fitting, client: None, risk: None });
        }
        let root = Table::root(map, &CLIENT, report);
        if !root.has("fitting") {
            root.report
                .error(None, "the client file lacks `[fitting]`".to_owned())
                .why("there is no fitting in it to look at")
                .help("add the table `[fitting]`; the shipped client file shows all of it")
                .for_absence();
        }
        let client = root.parsed("ref", ClientRef::new);
        let risk = match clinic {
            Some(clinic) => level(&root, clinic).map(|(level, _)| level.value),
            None if root.has("risk") => {
                root.parsed("risk", RiskLevel::new).map(|level| level.value)
            }
            None => None,
        };
        let fitting = fitting(&root.table("fitting")?, today)?;
        Some(FittingFile { fitting, client: Some(client?.value), risk })
    });
    CheckedFile::unless_refused(file, problems)
}

/// Reads `[fitting]`.
pub(super) fn fitting(table: &Table<'_>, today: NaiveDate) -> Option<Fitting> {
    let date = table.date("date").and_then(|date| not_ahead(table, date, today));
    let fitter = table.parsed("fitter", FreeWords::new);
    let seat = table.parsed("seat", FreeWords::new);
    let checks = table.table("checks").and_then(|checks| read_checks(&checks));
    let clearance = if table.has("clearance") {
        table.table("clearance").and_then(|clearance| read_clearance(&clearance)).map(Some)
    } else {
        Some(None)
    };
    if let (Some(checks), Some(None)) = (&checks, &clearance) {
        check_without_clearance(table, checks);
    }
    let build_up = table.table("build_up").and_then(|pieces| read_build_up(&pieces));
    let pelvis = table.table("pelvis").and_then(|pelvis| read_pelvis(&pelvis));
    let legs = chosen(table, "legs", Legs::WORDS);
    let thigh_supports = chosen(table, "thigh_supports", ThighSupports::WORDS);
    let comfort_fill = table
        .yes_no("comfort_fill")
        .map(|used| if used.value { ComfortFill::Used } else { ComfortFill::NotUsed });
    let (off_loads, loads) = (sites(table, "off_loads"), sites(table, "loads"));
    if let (Some(off_loads), Some(loads)) = (&off_loads, &loads) {
        refuse_both(table, off_loads, loads);
    }
    let plain = |sites: Vec<At<Site>>| sites.into_iter().map(|site| site.value).collect();
    Some(Fitting {
        date: date?,
        fitter: fitter?.value,
        seat: seat?.value,
        checks: checks?,
        clearance: clearance?,
        build_up: build_up?,
        pelvis: pelvis?,
        legs: legs?,
        thigh_supports: thigh_supports?,
        comfort_fill: comfort_fill?,
        off_loads: plain(off_loads?),
        loads: plain(loads?),
    })
}

/// A fitting that has not been made yet is a slip, or a record made up.
fn not_ahead(table: &Table<'_>, date: At<NaiveDate>, today: NaiveDate) -> Option<NaiveDate> {
    if date.value > today {
        table
            .report
            .error(date.span, "the fitting lies in the future".to_owned())
            .label(format!("today is {today}"))
            .why("a fitting is recorded as it was found")
            .help("check the year and the month");
        return None;
    }
    Some(date.value)
}

fn read_checks(table: &Table<'_>) -> Option<Checks> {
    let results = Check::ALL.map(|check| read_check(table, check));
    if results.iter().any(Option::is_none) {
        return None;
    }
    let mut results = results.into_iter().flatten();
    Some(Checks::of(|_| results.next().expect("OK because every check was read")))
}

/// A check as a word, or as a table with the word and a note.
fn read_check(table: &Table<'_>, check: Check) -> Option<Checked> {
    let (_, value) = table.raw(check.id())?;
    if value.get_ref().is_table() {
        let inner = table.table(check.id())?;
        let result = inner.word("is");
        let note = if inner.has("note") {
            inner.parsed("note", FreeWords::new).map(|note| Some(note.value))
        } else {
            Some(None)
        };
        return Some(Checked { result: result_of(result?.value), note: note? });
    }
    let result = table.word(check.id())?;
    Some(Checked { result: result_of(result.value), note: None })
}

fn result_of(word: &str) -> CheckResult {
    match word {
        "ok" => CheckResult::Ok,
        "not-ok" => CheckResult::NotOk,
        _ => CheckResult::NotChecked,
    }
}

fn read_clearance(table: &Table<'_>) -> Option<ClearanceFound> {
    let left = table.parsed("left", str::parse::<Clearance>);
    let right = table.parsed("right", str::parse::<Clearance>);
    let how = match table.word("found_by")?.value {
        "feeler" => imprints(table),
        _ => without_imprints(table),
    };
    Some(ClearanceFound { left: left?.value, right: right?.value, how: how? })
}

fn imprints(table: &Table<'_>) -> Option<ClearanceHow> {
    for side in ["imprint_left", "imprint_right"] {
        if !table.has(side) {
            table
                .report
                .error(table.span.clone(), format!("`fitting.clearance` lacks `{side}`"))
                .label("found by a feeler, with no word of its imprint")
                .why("the imprint says what the site did during the sitting")
                .help(format!("add `{side} = \"none\"`, \"faint\" or \"deep\""))
                .for_absence();
        }
    }
    let left = chosen(table, "imprint_left", Imprint::WORDS);
    let right = chosen(table, "imprint_right", Imprint::WORDS);
    Some(ClearanceHow::Feeler { left: left?, right: right? })
}

fn without_imprints(table: &Table<'_>) -> Option<ClearanceHow> {
    let mut by_hand = Some(ClearanceHow::Hand);
    for side in ["imprint_left", "imprint_right"].into_iter().filter(|side| table.has(side)) {
        table
            .report
            .error(table.key_span(side), format!("`{side}` without a feeler"))
            .label("a hand leaves no imprint")
            .beside(table.value_span("found_by"), "found by hand")
            .help("write `found_by = \"feeler\"`, or take the imprint out");
        by_hand = None;
    }
    by_hand
}

/// A clearance that was judged must have been found.
fn check_without_clearance(table: &Table<'_>, checks: &Checks) {
    for side in Side::BOTH {
        if checks.get(Check::Clearance(side)).result != CheckResult::NotChecked {
            let key = format!("clearance_{}", side.id());
            table
                .report
                .error(table.value_span("checks"), format!("`{key}` is judged but not measured"))
                .label("there is no `[fitting.clearance]`")
                .why("how much room there was is what the next fitting needs")
                .help(format!(
                    "add `[fitting.clearance]` with `found_by`, `left` and `right`, or write \
                     `{key} = \"not-checked\"`"
                ));
        }
    }
}

fn read_build_up(table: &Table<'_>) -> Option<BuildUp> {
    let (left, right) = (table.count("left"), table.count("right"));
    let seat_takes = table.count("seat_takes");
    let (left, right, seat_takes) = (left?, right?, seat_takes?);
    match BuildUp::new(left.value, right.value, seat_takes.value) {
        Ok(build_up) => Some(build_up),
        Err(reason) => {
            let more = if left.value > seat_takes.value { left } else { right };
            table
                .report
                .error(more.span, reason.to_string())
                .label("more than the seat takes")
                .beside(seat_takes.span, "the most on one side")
                .help("count the pieces again, or correct `seat_takes`");
            None
        }
    }
}

fn read_pelvis(table: &Table<'_>) -> Option<Pelvis> {
    let low_side = table.word("low_side")?;
    let side = match low_side.value {
        "left" => Side::Left,
        "right" => Side::Right,
        word => {
            for key in ["obliquity", "levelled"].into_iter().filter(|key| table.has(key)) {
                table
                    .report
                    .error(table.key_span(key), format!("`{key}` without a low side"))
                    .label("says something about an obliquity")
                    .beside(low_side.span.clone(), "no side is low here")
                    .help("name the low side, or take the line out");
            }
            return Some(if word == "none" { Pelvis::Level } else { Pelvis::NotChecked });
        }
    };
    for (key, right) in [("obliquity", "\"flexible\""), ("levelled", "true")] {
        if !table.has(key) {
            table
                .report
                .error(table.span.clone(), format!("`fitting.pelvis` lacks `{key}`"))
                .label("an obliquity with no word of it")
                .why("whether it moves and whether it is levelled decides if this seat can do it")
                .help(format!("add `{key} = {right}`"))
                .for_absence();
        }
    }
    let kind = chosen(table, "obliquity", ObliquityKind::WORDS);
    let levelled = table
        .yes_no("levelled")
        .map(|levelled| if levelled.value { Levelled::Yes } else { Levelled::No });
    Some(Pelvis::Oblique(Obliquity { low_side: side, kind: kind?, levelled: levelled? }))
}

/// The value of a word.
fn chosen<T: Copy>(table: &Table<'_>, key: &str, words: &[(&'static str, T)]) -> Option<T> {
    let word = table.word(key)?;
    let (_, value) = words
        .iter()
        .find(|(name, _)| *name == word.value)
        .expect("OK because the description lists the same words");
    Some(*value)
}

/// A list of sites.
fn sites(table: &Table<'_>, key: &str) -> Option<Vec<At<Site>>> {
    let texts = table.texts(key)?;
    if texts.is_empty() && key == "off_loads" {
        table
            .report
            .error(table.value_span(key), "the seat takes load off no site".to_owned())
            .label("an empty list")
            .why("the follow-up tests whether these sites stay without marks")
            .help("name at least one: `off_loads = [\"ischium\"]`");
        return None;
    }
    let mut sites = Vec::new();
    for text in &texts {
        match text.value.parse::<Site>() {
            Ok(site) => sites.push(At { value: site, span: text.span.clone() }),
            Err(unknown) => {
                let known: Vec<String> = all_sites().iter().map(ToString::to_string).collect();
                let help = match nearest(text.value, known.iter().map(String::as_str)) {
                    Some(meant) => format!("did you mean \"{meant}\"?"),
                    None => "write it like \"ischium\" or \"ischium-left\"".to_owned(),
                };
                table
                    .report
                    .error(text.span.clone(), unknown.to_string())
                    .label("no site by this name")
                    .help(help);
            }
        }
    }
    (sites.len() == texts.len()).then_some(sites)
}

fn refuse_both(table: &Table<'_>, off_loads: &[At<Site>], loads: &[At<Site>]) {
    for loaded in loads {
        let sides = loaded.value.both_if_unsided();
        let both = off_loads
            .iter()
            .find(|off| off.value.both_if_unsided().iter().any(|site| sides.contains(site)));
        if let Some(off_loaded) = both {
            table
                .report
                .error(loaded.span.clone(), format!("`{}` is off-loaded and loaded", loaded.value))
                .label("loaded here")
                .beside(off_loaded.span.clone(), "off-loaded here")
                .why("what to examine after a mark depends on which of the two it is")
                .help("take it out of one of the two lists");
        }
    }
}
