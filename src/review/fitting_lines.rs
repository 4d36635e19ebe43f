//! The fitting in three lines, as an alert shows it.
//!
//! Never here: how an alert looks.
//! Promises: what was doubtful at the fitting is said, not left out; three lines, read top-down.

use super::words::Words;
use crate::care::fitting::{
    CheckResult, ClearanceFound, ClearanceHow, ComfortFill, FittingVersion, Levelled,
    ObliquityKind, Pelvis,
};
use crate::care::{Fitting, Side, Site};

/// A fitting as a follow-up tests it.
#[derive(Clone, Copy, Debug)]
pub struct Tested<'a> {
    /// The record.
    pub fitting: &'a Fitting,
    /// Its version.
    pub version: &'a FittingVersion,
    /// Whether a clinician began on it although it was not ready.
    pub in_spite_of: bool,
}

/// The three lines. `site_names` lists sites in the language of the words.
pub fn fitting_lines(
    tested: Tested<'_>,
    words: &Words,
    site_names: &dyn Fn(&[Site]) -> String,
) -> Vec<String> {
    let Tested { fitting, version, in_spite_of } = tested;
    let mut first = words.fill(
        "line.fitted",
        &[
            ("date", &fitting.date.to_string()),
            ("seat", fitting.seat.as_str().trim_end_matches('.')),
            ("version", version.short()),
        ],
    );
    let doubts: Vec<&str> = fitting
        .checks
        .iter()
        .filter(|(_, checked)| checked.result != CheckResult::Ok)
        .map(|(check, _)| words.say(&format!("check.{check}")))
        .collect();
    if !doubts.is_empty() {
        first.push(' ');
        first.push_str(&words.fill("line.doubts", &[("checks", &doubts.join(", "))]));
    }
    if in_spite_of {
        first.push(' ');
        first.push_str(words.say("line.in_spite_of"));
    }
    let second = words.fill(
        "line.fit",
        &[
            ("clearance", &clearance_in_words(fitting.clearance, words)),
            ("build_up", &build_up_in_words(fitting, words)),
            ("comfort_fill", comfort_fill_in_words(fitting, words)),
        ],
    );
    let posture = words.fill(
        "line.posture",
        &[
            ("pelvis", &pelvis_in_words(fitting.pelvis, words)),
            ("legs", legs_in_words(fitting, words)),
            ("supports", supports_in_words(fitting, words)),
        ],
    );
    let sites = words.fill(
        "line.sites",
        &[("off_loads", &site_names(&fitting.off_loads)), ("loads", &site_names(&fitting.loads))],
    );
    vec![first, capital(&second), capital(&format!("{posture} {sites}"))]
}

/// How much room there is, and how it was found.
pub(super) fn clearance_in_words(found: Option<ClearanceFound>, words: &Words) -> String {
    let Some(found) = found else { return words.say("clearance.not-found").to_owned() };
    let (left, right) = (words.length(found.left), words.length(found.right));
    match found.how {
        ClearanceHow::Hand => {
            words.fill("clearance.by-hand", &[("left", &left), ("right", &right)])
        }
        ClearanceHow::Feeler { left: imprint_left, right: imprint_right } => words.fill(
            "clearance.by-feeler",
            &[
                ("left", &left),
                ("right", &right),
                ("imprint_left", words.say(&format!("imprint.{}", imprint_left.id()))),
                ("imprint_right", words.say(&format!("imprint.{}", imprint_right.id()))),
            ],
        ),
    }
}

pub(super) fn build_up_in_words(fitting: &Fitting, words: &Words) -> String {
    let pieces = fitting.build_up;
    words.fill(
        "build_up",
        &[
            ("left", &pieces.pieces(Side::Left).to_string()),
            ("right", &pieces.pieces(Side::Right).to_string()),
            ("most", &pieces.seat_takes().to_string()),
        ],
    )
}

pub(super) fn pelvis_in_words(pelvis: Pelvis, words: &Words) -> String {
    let Pelvis::Oblique(obliquity) = pelvis else {
        let level = pelvis == Pelvis::Level;
        return words.say(if level { "pelvis.level" } else { "pelvis.not-checked" }).to_owned();
    };
    let key = match (obliquity.kind, obliquity.levelled) {
        (ObliquityKind::Flexible, Levelled::Yes) => "pelvis.flexible-levelled",
        (ObliquityKind::Flexible, Levelled::No) => "pelvis.flexible-not-levelled",
        (ObliquityKind::Fixed, Levelled::Yes) => "pelvis.fixed-levelled",
        (ObliquityKind::Fixed, Levelled::No) => "pelvis.fixed-not-levelled",
    };
    words.fill(key, &[("side", words.say(&format!("side.{}", obliquity.low_side.id())))])
}

pub(super) fn legs_in_words<'w>(fitting: &Fitting, words: &'w Words) -> &'w str {
    words.say(&format!("legs.{}", fitting.legs.id()))
}

pub(super) fn supports_in_words<'w>(fitting: &Fitting, words: &'w Words) -> &'w str {
    words.say(&format!("thigh_supports.{}", fitting.thigh_supports.id()))
}

pub(super) fn comfort_fill_in_words<'w>(fitting: &Fitting, words: &'w Words) -> &'w str {
    words.say(match fitting.comfort_fill {
        ComfortFill::Used => "comfort_fill.used",
        ComfortFill::NotUsed => "comfort_fill.not-used",
    })
}

/// A phrase as the beginning of a sentence.
pub(super) fn capital(phrase: &str) -> String {
    let mut letters = phrase.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
