//! The guide: lines with conditions, from a question to an ordered list of what to examine.
//!
//! Never here: reading its file (`config`), what counts as a finding.
//! Promises: the order is the file's; no line twice; at most as many as the file says; it proposes
//! and never prescribes.

use std::collections::{BTreeMap, BTreeSet};

use super::question::{FittingFact, HistoryFact, Question, Seen, Sidedness};
use crate::care::fitting::{Bearing, Check};
use crate::care::{Place, Site};

/// A review guide, checked: every line has a text in every language of the guide.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guide {
    /// The most lines that are proposed at once.
    pub lines_most: usize,
    /// The lines, in the order in which they are proposed.
    pub lines: Vec<GuideLine>,
}

/// A line of a guide.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GuideLine {
    /// A short name, unique in the guide.
    pub id: String,
    /// When it is proposed.
    pub when: When,
    /// What it rests on.
    pub source: LineSource,
    /// Its text by language tag; English always.
    pub texts: BTreeMap<String, String>,
}

/// What a line rests on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LineSource {
    /// Common practice; no published source was found.
    CommonPractice,
    /// Something published, as the file names it.
    Published(String),
}

/// When a line is proposed: every condition that is given must hold, by any of its words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct When {
    /// The place of the finding.
    pub place: Vec<Place>,
    /// What the seat does with the site.
    pub bearing: Vec<Bearing>,
    /// What was seen.
    pub finding: Vec<Seen>,
    /// Whether the marks lie on one side.
    pub sides: Vec<Sidedness>,
    /// How marks have faded before.
    pub history: Vec<HistoryFact>,
    /// What the fitting shows.
    pub fitting: Vec<FittingFact>,
    /// Checks of the fitting that were not right, or not made.
    pub doubtful: Vec<Check>,
}

/// Something to examine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Proposal<'g> {
    /// The line.
    pub line: &'g GuideLine,
    /// The first site that it is about; none where it concerns no site.
    pub site: Option<Site>,
}

impl Guide {
    /// What to examine, first things first.
    pub fn proposals(&self, question: &Question<'_>) -> Vec<Proposal<'_>> {
        let sites: Vec<Option<Site>> = if question.sites.is_empty() {
            vec![None]
        } else {
            question.sites.iter().copied().map(Some).collect()
        };
        self.lines
            .iter()
            .filter_map(|line| {
                let site = sites.iter().find(|site| line.when.holds(question, **site))?;
                Some(Proposal { line, site: site.filter(|_| line.when.is_about_a_site()) })
            })
            .take(self.lines_most)
            .collect()
    }

    /// The languages in which every line has a text.
    pub fn languages(&self) -> BTreeSet<&str> {
        let mut languages: BTreeSet<&str> =
            self.lines.iter().flat_map(|line| line.texts.keys().map(String::as_str)).collect();
        languages.retain(|code| self.lines.iter().all(|line| line.texts.contains_key(*code)));
        languages
    }
}

impl GuideLine {
    /// The text in a language, by tag such as `es` or `es-MX`; else in English.
    pub fn text(&self, language: &str) -> &str {
        let primary = language.split('-').next().unwrap_or(language);
        [language, primary, "en"]
            .into_iter()
            .find_map(|code| self.texts.get(code))
            .map_or("", String::as_str)
    }
}

impl When {
    fn is_about_a_site(&self) -> bool {
        !(self.place.is_empty() && self.bearing.is_empty() && self.sides.is_empty())
    }

    fn holds(&self, question: &Question<'_>, site: Option<Site>) -> bool {
        any(&self.place, |place| site.is_some_and(|site| site.place() == *place))
            && any(&self.bearing, |bearing| *bearing == question.bearing(site))
            && any(&self.finding, |seen| *seen == question.seen)
            && any(&self.sides, |sides| *sides == question.sidedness(site))
            && any(&self.history, |fact| question.has_history(*fact, site))
            && any(&self.fitting, |fact| question.has_fitting(*fact))
            && any(&self.doubtful, |check| question.is_doubtful(*check))
    }
}

/// Whether a condition holds: by any of its words, or because it is not given.
fn any<T>(words: &[T], holds: impl FnMut(&T) -> bool) -> bool {
    words.is_empty() || words.iter().any(holds)
}
