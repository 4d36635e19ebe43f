//! Reads `[fit]`: the values that the clinic holds a fit to.
//!
//! Never here: holding a fit to them (`review`).
//! Promises: a value left out is the one of common practice, as the clinic file says beside it.

use super::shape::{Key, Kind, Shape};
use super::table::Table;
use crate::care::fitting::{FitPractice, Imprint};
use crate::care::{Clearance, RiskLevel};

/// Reads `[fit]`.
pub(super) fn fit_practice(table: &Table<'_>) -> Option<FitPractice> {
    let common = FitPractice::common();
    let clearance = |key: &str, common: Clearance| match table.has(key) {
        true => table.parsed(key, str::parse::<Clearance>).map(|clearance| clearance.value),
        false => Some(common),
    };
    let count = |key: &str, common: u32| match table.has(key) {
        true => table.count(key).map(|count| count.value),
        false => Some(common),
    };
    let least = clearance("clearance_least", common.clearance_least);
    let most = clearance("clearance_most", common.clearance_most);
    let feeler = clearance("feeler_thickness", common.feeler_thickness);
    let imprint = match table.has("imprint_most") {
        true => table.word("imprint_most").and_then(|word| {
            let known = Imprint::WORDS.iter().find(|(name, _)| *name == word.value);
            known.map(|(_, imprint)| *imprint)
        }),
        false => Some(common.imprint_most),
    };
    let pairs = count("build_up_pairs_most", common.build_up_pairs_most);
    let one_side = count("build_up_one_side_most", common.build_up_one_side_most);
    let fill = match table.has("comfort_fill_for") {
        true => levels(table),
        false => Some(common.comfort_fill_for),
    };
    let (least, most) = (least?, most?);
    if least > most {
        let key = if table.has("clearance_least") { "clearance_least" } else { "clearance_most" };
        table
            .report
            .error(table.value_span(key), "the least clearance is above the most".to_owned())
            .label(format!("least {least}, most {most}"))
            .why("no fit could ever be ready")
            .help("write the smaller one as `clearance_least`");
        return None;
    }
    Some(FitPractice {
        clearance_least: least,
        clearance_most: most,
        feeler_thickness: feeler?,
        imprint_most: imprint?,
        build_up_pairs_most: pairs?,
        build_up_one_side_most: one_side?,
        comfort_fill_for: fill?,
    })
}

fn levels(table: &Table<'_>) -> Option<Vec<RiskLevel>> {
    let texts = table.texts("comfort_fill_for")?;
    let mut levels = Vec::new();
    for text in &texts {
        match RiskLevel::new(text.value) {
            Ok(level) => levels.push(level),
            Err(reason) => {
                let what = format!("\"{}\" cannot name a risk level", text.value);
                table.report.error(text.span.clone(), what).label(reason.to_string());
            }
        }
    }
    (levels.len() == texts.len()).then_some(levels)
}

/// `[fit]`.
pub(super) static FIT: Shape = Shape {
    name: "[fit]",
    keys: &[
        Key::optional(
            "clearance_least",
            Kind::Clearance,
            "\"1/2in\"",
            "the least room under each sit bone, after build-up",
        ),
        Key::optional(
            "clearance_most",
            Kind::Clearance,
            "\"3/4in\"",
            "the most room under each sit bone, after build-up",
        ),
        Key::optional(
            "feeler_thickness",
            Kind::Clearance,
            "\"3/4in\"",
            "how thick the feeler is that is left under a site during a sitting",
        ),
        Key::optional(
            "imprint_most",
            Kind::Word(&["none", "faint", "deep"]),
            "\"faint\"",
            "the deepest imprint on that feeler that still passes",
        ),
        Key::optional(
            "build_up_pairs_most",
            Kind::Count(0, 20),
            "2",
            "how many pairs of pieces before another seat is considered",
        ),
        Key::optional(
            "build_up_one_side_most",
            Kind::Count(0, 20),
            "2",
            "how many pieces on one side before another seat is considered",
        ),
        Key::optional(
            "comfort_fill_for",
            Kind::Texts,
            "[\"low\"]",
            "the risk levels for which comfort fill may be used",
        ),
    ],
};
