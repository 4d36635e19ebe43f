//! Maps a score on a published risk scale to a level of the plan, by the clinic's own bands.
//!
//! Never here: which bands are right (the clinic's to say); the scales' questions.
//! Promises: every possible score of a mapped scale has exactly one level.

use std::collections::BTreeMap;

use super::shape::{Key, Kind, Shape};
use super::table::{At, Table};
use crate::care::{RiskLevel, risk::RiskScale};

/// The bands of every scale that the clinic uses.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RiskScores {
    bands: BTreeMap<RiskScale, Vec<Band>>,
}

/// One band of a scale, both ends included.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Band {
    lowest: u32,
    highest: u32,
    level: RiskLevel,
}

/// A score on a published scale, within its range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RiskScore {
    /// The scale.
    pub scale: RiskScale,
    /// The score.
    pub score: u32,
}

impl RiskScores {
    /// The level of a score; none where the clinic does not map the scale.
    pub fn level(&self, score: RiskScore) -> Option<&RiskLevel> {
        let band = |band: &&Band| (band.lowest..=band.highest).contains(&score.score);
        self.bands.get(&score.scale)?.iter().find(band).map(|band| &band.level)
    }

    /// The scales that the clinic maps.
    pub fn scales(&self) -> impl Iterator<Item = RiskScale> + '_ {
        self.bands.keys().copied()
    }
}

/// Reads `[risk_scores]`.
pub(super) fn risk_scores(table: &Table<'_>) -> Option<RiskScores> {
    let mut scores = RiskScores::default();
    let mut complete = true;
    for scale in RiskScale::ALL.into_iter().filter(|scale| table.has(scale.name())) {
        match bands(table, scale) {
            Some(bands) => {
                scores.bands.insert(scale, bands);
            }
            None => complete = false,
        }
    }
    complete.then_some(scores)
}

/// Reads `risk_score = { scale = …, score = … }`.
pub(super) fn risk_score(table: &Table<'_>) -> Option<At<RiskScore>> {
    let scale = table.word("scale");
    let score = table.count("score");
    let (scale, score) = (scale?, score?);
    let scale = RiskScale::ALL.into_iter().find(|known| known.name() == scale.value)?;
    let (lowest, highest) = scale.range();
    if !(lowest..=highest).contains(&score.value) {
        table
            .report
            .error(score.span, format!("no score of {} on the {} scale", score.value, scale.name()))
            .label(format!("the scale goes from {lowest} to {highest}"))
            .help("check the score, or the name of the scale");
        return None;
    }
    Some(At { value: RiskScore { scale, score: score.value }, span: table.span.clone() })
}

fn bands(table: &Table<'_>, scale: RiskScale) -> Option<Vec<Band>> {
    let read = table.bands(scale.name())?;
    let (lowest, highest) = scale.range();
    let mut bands = Vec::new();
    let mut complete = true;
    for (name, ends) in read {
        let Ok(level) = RiskLevel::new(name.value) else {
            let what = format!("\"{}\" cannot name a risk level", name.value);
            table.report.error(name.span, what).label("small letters, digits and `-` only");
            complete = false;
            continue;
        };
        match ends.value.as_slice() {
            [from, to] if from <= to => {
                bands.push(At {
                    value: Band { lowest: *from, highest: *to, level },
                    span: ends.span,
                });
            }
            _ => {
                table
                    .report
                    .error(ends.span, "a band has a lowest and a highest score".to_owned())
                    .label("two numbers are needed, the smaller first")
                    .help(format!("write it like `{level} = [{lowest}, {highest}]`"));
                complete = false;
            }
        }
    }
    if !complete || !covers(table, scale, &mut bands) {
        return None;
    }
    Some(bands.into_iter().map(|band| band.value).collect())
}

/// Whether every score of the scale lies in exactly one band; puts the bands in order.
fn covers(table: &Table<'_>, scale: RiskScale, bands: &mut [At<Band>]) -> bool {
    let (lowest, highest) = scale.range();
    bands.sort_by_key(|band| band.value.lowest);
    let mut next = lowest;
    for band in bands.iter() {
        let (from, to) = (band.value.lowest, band.value.highest);
        if from == next && to <= highest {
            next = to + 1;
            continue;
        }
        let (what, label) = if to > highest || from < lowest {
            let what = format!("the {} scale goes from {lowest} to {highest}", scale.name());
            (what, "a score that cannot be".to_owned())
        } else if from > next {
            let what = format!("a score of {next} on the {} scale has no level", scale.name());
            (what, format!("begins at {from}"))
        } else {
            let what = format!("a score of {from} on the {} scale has two levels", scale.name());
            (what, format!("{} belongs to another band already", from))
        };
        table
            .report
            .error(band.span.clone(), what)
            .label(label)
            .why("every possible score must lead to exactly one level")
            .help("let each band begin where the one before it ends, plus one");
        return false;
    }
    if next <= highest {
        table
            .report
            .error(
                table.key_span(scale.name()),
                format!("a score of {next} on the {} scale has no level", scale.name()),
            )
            .label(format!("the bands end at {}, the scale at {highest}", next.saturating_sub(1)))
            .why("every possible score must lead to exactly one level");
        return false;
    }
    true
}

/// Highest score of any scale.
const SCORE_MAX: u32 = 100;

/// `[risk_scores]`.
pub(super) static RISK_SCORES: Shape = Shape {
    name: "[risk_scores]",
    keys: &[
        Key::optional("braden", Kind::Bands, "{ low = [6, 23] }", "the bands of the Braden scale"),
        Key::optional("norton", Kind::Bands, "{ low = [5, 20] }", "the bands of the Norton scale"),
        Key::optional("waterlow", Kind::Bands, "{ low = [1, 64] }", "the bands of Waterlow"),
        Key::optional("scipus", Kind::Bands, "{ low = [0, 25] }", "the bands of SCIPUS"),
    ],
};

/// `risk_score`.
pub(super) static RISK_SCORE: Shape = Shape {
    name: "a risk score",
    keys: &[
        Key::required(
            "scale",
            Kind::Word(&["braden", "norton", "waterlow", "scipus"]),
            "\"braden\"",
            "the published scale",
        ),
        Key::required("score", Kind::Count(0, SCORE_MAX), "14", "the client's score on it"),
    ],
};
