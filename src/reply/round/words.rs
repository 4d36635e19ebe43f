//! The words by which one reply to several requests is divided, from the language files.
//!
//! Never here: names, the dividing, what any words mean.
//! Promises: the words of all languages are heard at once, since people mix them; a longer phrase is
//! tried before a shorter one.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use super::runs::folded_runs;

/// How a language speaks of the clients of one round.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RoundTable {
    /// Phrases that speak of all clients of the round.
    everyone: String,
    /// Phrases that speak of so many.
    #[serde(default)]
    counted: BTreeMap<String, u32>,
    /// Phrases that speak of all who are not named.
    rest: String,
    /// What comes before the names that a statement does not hold for.
    except: String,
    /// What joins two names or two statements.
    joints: String,
    /// What may stand before a name that opens a statement.
    leads: String,
}

/// Phrases, each as its folded words; the longest first.
#[derive(Debug, Default)]
pub(crate) struct Phrases(Vec<(Vec<String>, Option<u32>)>);

/// The words of one or of all languages.
#[derive(Debug, Default)]
pub(crate) struct RoundWords {
    pub(super) everyone: Phrases,
    pub(super) rest: Phrases,
    pub(super) except: Phrases,
    pub(super) joints: Phrases,
    pub(super) leads: Phrases,
}

/// A phrase that was met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Met {
    /// Of how many words it is.
    pub(super) words: usize,
    /// Of how many clients it speaks, where it says so.
    pub(super) count: Option<u32>,
}

impl Phrases {
    fn of<'a>(lists: impl IntoIterator<Item = (&'a str, Option<u32>)>) -> Self {
        let phrases = lists.into_iter().flat_map(|(list, count)| {
            list.split([',', '\n']).map(move |phrase| (folded_runs(phrase), count))
        });
        let mut all: Vec<_> = phrases.filter(|(words, _)| !words.is_empty()).collect();
        all.sort_by(|(a, _), (b, _)| (b.len(), a).cmp(&(a.len(), b)));
        Self(all)
    }

    /// The longest phrase that begins at the first of the words.
    pub(super) fn begin(&self, words: &[&str]) -> Option<Met> {
        self.0.iter().find_map(|(phrase, count)| {
            let fits = phrase.len() <= words.len() && phrase.iter().zip(words).all(|(a, b)| a == b);
            fits.then_some(Met { words: phrase.len(), count: *count })
        })
    }

    /// The longest phrase that ends with the last of the words.
    pub(super) fn end(&self, words: &[&str]) -> Option<Met> {
        self.0.iter().find_map(|(phrase, count)| {
            let from = words.len().checked_sub(phrase.len())?;
            let fits = phrase.iter().zip(&words[from..]).all(|(a, b)| a == b);
            fits.then_some(Met { words: phrase.len(), count: *count })
        })
    }

    /// The first phrase that stands anywhere in the words.
    pub(super) fn within(&self, words: &[&str]) -> Option<Met> {
        (0..words.len()).find_map(|from| self.begin(&words[from..]))
    }
}

impl RoundWords {
    /// The words of several languages together.
    pub(in crate::reply) fn of_all<'a>(all: impl IntoIterator<Item = &'a Self>) -> Self {
        let mut joined = Self::default();
        for one in all {
            joined.everyone.0.extend(one.everyone.0.iter().cloned());
            joined.rest.0.extend(one.rest.0.iter().cloned());
            joined.except.0.extend(one.except.0.iter().cloned());
            joined.joints.0.extend(one.joints.0.iter().cloned());
            joined.leads.0.extend(one.leads.0.iter().cloned());
        }
        let Self { everyone, rest, except, joints, leads } = &mut joined;
        for phrases in [everyone, rest, except, joints, leads] {
            phrases.0.sort_by(|(a, _), (b, _)| (b.len(), a).cmp(&(a.len(), b)));
        }
        joined
    }

    /// Whether a word is one of these phrases, so that it can be nobody's name.
    pub(super) fn knows(&self, word: &str) -> bool {
        let Self { everyone, rest, except, joints, leads } = self;
        [everyone, rest, except, joints, leads]
            .iter()
            .any(|phrases| phrases.0.iter().any(|(phrase, _)| phrase.iter().any(|w| w == word)))
    }
}

impl From<&RoundTable> for RoundWords {
    fn from(table: &RoundTable) -> Self {
        let counted = table.counted.iter().map(|(phrase, count)| (phrase.as_str(), Some(*count)));
        let plain = |list: &str| Phrases::of([(list, None)]);
        Self {
            everyone: Phrases::of(counted.chain([(table.everyone.as_str(), None)])),
            rest: plain(&table.rest),
            except: plain(&table.except),
            joints: plain(&table.joints),
            leads: plain(&table.leads),
        }
    }
}
