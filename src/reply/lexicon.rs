//! One language: its words and phrases, read from a `lexicon.toml`.
//!
//! Never here: files, the reading of a reply.
//! Promises: a lexicon that was read is complete and consistent; what is wrong in the text is
//! said with the language, the table and the entry.

use std::collections::{BTreeMap, HashMap, HashSet};

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use super::Answering;
use super::clock::ClockSaying;
use super::concept::{Concept, Concepts};
use super::fold::fold;
use super::pattern::{Element, expand};
use super::phrase::Opened;
use super::round::{RoundTable, RoundWords};
use super::tap_answer;
use super::taps::{Tap, TapTable};
use super::token::Token;
use crate::care::Place;

/// Why a language file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum LexiconError {
    /// Not TOML, or a table is missing or unknown.
    #[error("lexicon `{code}` is not well-formed")]
    Malformed {
        /// The language.
        code: String,
        /// What the parser says, with the line.
        source: Box<toml::de::Error>,
    },
    /// An entry that names nothing the reader knows.
    #[error("lexicon `{code}`, table `{table}`: {what}")]
    Entry {
        /// The language.
        code: String,
        /// The table.
        table: &'static str,
        /// What is wrong.
        what: String,
    },
}

/// One language.
#[derive(Debug)]
pub struct Lexicon {
    code: String,
    pub(crate) plural: Vec<String>,
    /// Endings that make a word of another.
    pub(crate) derived: Vec<String>,
    pub(crate) endings: Vec<(String, Vec<String>)>,
    /// Words that lose their last letter before a vowel and are written onto the next: `l'` for
    /// `le`. They are parted, in replies and in this file alike.
    pub(crate) elisions: Vec<(String, String)>,
    pub(crate) rewrites: HashMap<String, Vec<String>>,
    pub(crate) capitals: HashMap<String, String>,
    pub(crate) numbers: HashMap<String, u32>,
    /// 'Third' and its like, which number a step.
    pub(crate) ordinals: HashMap<String, u32>,
    pub(crate) number_joints: HashSet<String>,
    pub(crate) durations: Vec<(Vec<String>, u32)>,
    pub(crate) clock: Vec<ClockSaying>,
    /// Words that open a time or a duration, beside numbers.
    pub(crate) time_openers: HashSet<String>,
    pub(crate) afternoon: HashSet<String>,
    pub(crate) forenoon: HashSet<String>,
    /// Every word of any phrase, with how grave it is to miss.
    pub(crate) vocabulary: HashMap<String, Gravity>,
    /// The same words and the contractions, by their length in letters, each with the letters it
    /// has, for misspellings.
    pub(crate) by_length: BTreeMap<usize, Vec<(String, u32)>>,
    /// The phrases by their first word; `#` stands for a number.
    pub(crate) phrases: HashMap<String, Opened>,
    taps: BTreeMap<Answering, Vec<Tap>>,
    /// The words of each tap's body, in the same order.
    tap_words: BTreeMap<Answering, Vec<Vec<Token>>>,
    round: RoundWords,
}

/// How grave it is to miss a word. A misspelling is taken for the gravest of the words that it is
/// equally near to, and for a calming one only where there is hardly another way to read it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Gravity {
    /// It denies or calms.
    Calming,
    /// It says nothing of marks.
    Plain,
    /// It names a place.
    Place,
    /// It speaks of a mark.
    Mark,
    /// It alarms.
    Alarm,
}

/// The words of one language, by which replies are read.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LexiconFile {
    /// Endings of a plural.
    plural: Vec<String>,
    /// Endings that make a word of another.
    #[serde(default)]
    derived: Vec<String>,
    /// What an ending stands for.
    #[serde(default)]
    endings: BTreeMap<String, String>,
    /// Words that are written onto the next without their last letter, and their whole form.
    #[serde(default)]
    elisions: BTreeMap<String, String>,
    /// Contractions and common misspellings, and what they stand for.
    #[serde(default)]
    rewrites: BTreeMap<String, String>,
    /// Words that mean something else in capitals.
    #[serde(default)]
    capitals: BTreeMap<String, String>,
    /// Words that say nothing here, so that they are not taken for misspellings of others.
    plain: String,
    /// Numbers in words.
    numbers: BTreeMap<String, u32>,
    /// Words such as 'third', which are numbers only before a step.
    #[serde(default)]
    ordinals: BTreeMap<String, u32>,
    /// Words that join two numbers.
    #[serde(default)]
    number_joints: String,
    /// Spans of time, in minutes.
    durations: BTreeMap<String, u32>,
    /// Words that put a time into the afternoon.
    afternoon: String,
    /// Words that put a time into the forenoon.
    forenoon: String,
    /// Ways to say a time of day.
    clock: Vec<ClockFile>,
    /// The phrases of each idea.
    #[schemars(schema_with = "phrases_by_concept")]
    say: BTreeMap<String, String>,
    /// The phrases of each place on the body.
    #[schemars(schema_with = "phrases_by_place")]
    places: BTreeMap<String, String>,
    /// The one-tap answers.
    taps: TapTable,
    /// How one reply speaks of several clients.
    round: RoundTable,
}

/// A way to say a time of day.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ClockFile {
    /// The words.
    say: String,
    /// The minute that they mean.
    minute: String,
}

fn phrases_by_concept(_: &mut SchemaGenerator) -> Schema {
    phrases_by(Concept::NAMED.iter().map(|(name, _)| *name))
}

fn phrases_by_place(_: &mut SchemaGenerator) -> Schema {
    phrases_by(Place::ALL.into_iter().map(Place::id))
}

fn phrases_by<'a>(names: impl Iterator<Item = &'a str>) -> Schema {
    let phrases = |name: &'a str| (name.to_owned(), serde_json::json!({ "type": "string" }));
    let properties: serde_json::Map<_, _> = names.map(phrases).collect();
    json_schema!({ "type": "object", "additionalProperties": false, "properties": properties })
}

impl Lexicon {
    /// Reads a language from the text of its `lexicon.toml`.
    ///
    /// # Errors
    /// When the text is not TOML, a table is missing or unknown, or an entry names a concept, a
    /// place or a phrase that the reader cannot use.
    pub fn parse(code: &str, text: &str) -> Result<Self, LexiconError> {
        let file: LexiconFile = toml::from_str(text).map_err(|source| LexiconError::Malformed {
            code: code.to_owned(),
            source: Box::new(source),
        })?;
        let entry = |table: &'static str| {
            move |what: String| LexiconError::Entry { code: code.to_owned(), table, what }
        };
        let elisions: Vec<(String, String)> =
            file.elisions.iter().map(|(k, v)| (fold(k), fold(v))).collect();
        let parted = |list: &str| -> HashSet<String> {
            entries(list).map(|entry| split(entry, &elisions).join(" ")).collect()
        };
        let mut lexicon = Self {
            code: code.to_owned(),
            plural: file.plural.iter().map(|e| fold(e)).collect(),
            derived: file.derived.iter().map(|e| fold(e)).collect(),
            endings: file.endings.iter().map(|(k, v)| (fold(k), split(v, &[]))).collect(),
            rewrites: file.rewrites.iter().map(|(k, v)| (fold(k), split(v, &elisions))).collect(),
            capitals: file.capitals.into_iter().collect(),
            numbers: file.numbers.iter().map(|(k, v)| (fold(k), *v)).collect(),
            ordinals: file.ordinals.iter().map(|(k, v)| (fold(k), *v)).collect(),
            number_joints: entries(&file.number_joints).map(fold).collect(),
            durations: file.durations.iter().map(|(k, v)| (split(k, &elisions), *v)).collect(),
            clock: Vec::new(),
            time_openers: HashSet::new(),
            afternoon: parted(&file.afternoon),
            forenoon: parted(&file.forenoon),
            vocabulary: HashMap::new(),
            by_length: BTreeMap::new(),
            phrases: HashMap::new(),
            elisions,
            taps: file.taps.checked().map_err(entry("taps"))?,
            tap_words: BTreeMap::new(),
            round: RoundWords::from(&file.round),
        };
        lexicon.tap_words = lexicon
            .taps
            .iter()
            .map(|(answering, taps)| (*answering, taps.iter().map(tap_answer::cut).collect()))
            .collect();
        for ClockFile { say, minute } in &file.clock {
            let sayings = ClockSaying::parse(say, minute).map_err(entry("clock"))?;
            lexicon.clock.extend(sayings);
        }
        let sayings = lexicon.clock.iter().filter_map(ClockSaying::opener);
        let spans = lexicon.durations.iter().filter_map(|(words, _)| words.first());
        lexicon.time_openers = sayings.map(str::to_owned).chain(spans.cloned()).collect();
        for (name, phrases) in &file.say {
            let (_, concept) = Concept::NAMED
                .iter()
                .find(|(known, _)| known == name)
                .ok_or_else(|| entry("say")(format!("no concept is named `{name}`")))?;
            lexicon.learn(phrases, Concepts::of(*concept), None).map_err(entry("say"))?;
        }
        for (name, phrases) in &file.places {
            let place = Place::ALL
                .into_iter()
                .find(|place| place.id() == name)
                .ok_or_else(|| entry("places")(format!("no place has the id `{name}`")))?;
            lexicon.learn(phrases, Concepts::default(), Some(place)).map_err(entry("places"))?;
        }
        lexicon.learn_plain(&file.plain);
        lexicon.sort_by_length();
        Ok(lexicon)
    }

    /// The JSON Schema of a `lexicon.toml`, for editors.
    pub fn schema() -> serde_json::Value {
        let inline = schemars::generate::SchemaSettings::draft2020_12()
            .with(|settings| settings.inline_subschemas = true);
        inline.into_generator().into_root_schema_for::<LexiconFile>().to_value()
    }

    /// The code of the language: the name of its folder.
    pub fn code(&self) -> &str {
        &self.code
    }

    /// The one-tap answers to a kind of message, in the order to offer them.
    pub fn taps(&self, answering: Answering) -> &[Tap] {
        self.taps.get(&answering).map_or(&[], Vec::as_slice)
    }

    /// The same, each with the words of its body.
    pub(crate) fn cut_taps(&self, answering: Answering) -> impl Iterator<Item = (&Tap, &[Token])> {
        let words = self.tap_words.get(&answering).into_iter().flatten();
        self.taps(answering).iter().zip(words.map(Vec::as_slice))
    }

    /// How one reply speaks of several clients.
    pub(super) fn round(&self) -> &RoundWords {
        &self.round
    }

    /// Whether the language has this written word.
    pub(crate) fn knows(&self, word: &str) -> bool {
        self.vocabulary.contains_key(word)
            || self.rewrites.contains_key(word)
            || self.numbers.contains_key(word)
    }

    /// How grave it is to miss a written word; of a contraction, the calmest of its words.
    pub(crate) fn gravity(&self, word: &str) -> Gravity {
        let own = |word: &str| self.vocabulary.get(word).copied().unwrap_or(Gravity::Plain);
        match self.rewrites.get(word) {
            Some(words) => words.iter().map(|w| own(w)).min().unwrap_or(Gravity::Plain),
            None => own(word),
        }
    }

    fn learn(
        &mut self,
        phrases: &str,
        concepts: Concepts,
        place: Option<Place>,
    ) -> Result<(), String> {
        let gravity = gravity(concepts, place);
        for pattern in entries(phrases) {
            for sequence in expand(pattern)? {
                let sequence = self.parted(sequence);
                self.learn_sequence(sequence, concepts, place, gravity);
            }
        }
        Ok(())
    }

    fn parted(&self, sequence: Vec<Element>) -> Vec<Element> {
        let words = sequence.into_iter().flat_map(|element| match element {
            Element::Word(word) => {
                part(word, &self.elisions).into_iter().map(Element::Word).collect()
            }
            other => vec![other],
        });
        words.collect()
    }

    fn learn_sequence(
        &mut self,
        sequence: Vec<Element>,
        concepts: Concepts,
        place: Option<Place>,
        gravity: Gravity,
    ) {
        for element in &sequence {
            if let Element::Word(word) = element {
                // A word inside a longer phrase has no gravity of its own.
                let own = if sequence.len() == 1 { gravity } else { Gravity::Plain };
                let known = self.vocabulary.entry(word.clone()).or_insert(own);
                *known = match (*known, own) {
                    (Gravity::Plain, _) => own,
                    (_, Gravity::Plain) => *known,
                    (before, now) => before.max(now),
                };
            }
        }
        let mut elements = sequence.into_iter();
        let Some(first) = elements.next() else { return };
        let key = match first {
            Element::Word(word) => word,
            Element::Number => "#".to_owned(),
            Element::Gap | Element::End => return,
        };
        self.phrases.entry(key).or_default().learn(elements.collect(), concepts, place);
    }

    fn sort_by_length(&mut self) {
        let mut words: Vec<String> =
            self.vocabulary.keys().chain(self.rewrites.keys()).cloned().collect();
        words.sort();
        words.dedup();
        for word in words {
            let letters = letters_of(&word);
            self.by_length.entry(word.chars().count()).or_default().push((word, letters));
        }
    }

    /// Words that say nothing here, so that they are not taken for misspellings of others.
    fn learn_plain(&mut self, plain: &str) {
        let sayings = self.clock.iter().flat_map(ClockSaying::words).map(str::to_owned);
        let phrases = [&self.afternoon, &self.forenoon];
        let parts: Vec<String> =
            phrases.into_iter().flatten().flat_map(|p| split(p, &[])).collect();
        let spans: Vec<String> = self.durations.iter().flat_map(|(p, _)| p.clone()).collect();
        let rewritten = self.rewrites.values().chain(self.endings.iter().map(|(_, words)| words));
        let rewritten: Vec<String> = rewritten.flatten().cloned().collect();
        let numbers = self.numbers.keys().chain(self.ordinals.keys());
        let numbers: Vec<String> = numbers.cloned().collect();
        let words: Vec<String> =
            sayings.chain(parts).chain(spans).chain(rewritten).chain(numbers).collect();
        for word in plain.split_whitespace().map(fold).chain(words) {
            self.vocabulary.entry(word).or_insert(Gravity::Plain);
        }
    }
}

/// Which letters a word has, one bit each: words that differ in many are not near.
pub(crate) fn letters_of(word: &str) -> u32 {
    word.chars().fold(0, |all, c| all | 1 << (c as u32 % 32))
}

/// The entries of a comma-separated list.
fn entries(list: &str) -> impl Iterator<Item = &str> {
    list.split([',', '\n']).map(str::trim).filter(|entry| !entry.is_empty())
}

fn split(phrase: &str, elisions: &[(String, String)]) -> Vec<String> {
    phrase.split_whitespace().flat_map(|word| part(fold(word), elisions)).collect()
}

/// The words of one that may begin with an elided one.
pub(crate) fn part(word: String, elisions: &[(String, String)]) -> Vec<String> {
    let parted = elisions.iter().find_map(|(short, full)| {
        let rest = word.strip_prefix(short.as_str()).filter(|rest| !rest.is_empty())?;
        Some((full.clone(), rest.to_owned()))
    });
    match parted {
        Some((full, rest)) => vec![full, rest],
        None => vec![word],
    }
}

fn gravity(concepts: Concepts, place: Option<Place>) -> Gravity {
    use Concept as C;
    let marks = [C::Mark, C::Colour, C::Warm, C::Still, C::Lasts, C::Worse, C::Stop, C::Press];
    // A supposition or a belief silences what follows it, as a denial does.
    let calms = [
        C::Not,
        C::No,
        C::Nothing,
        C::NoMore,
        C::Gone,
        C::Clear,
        C::ClearOfMarks,
        C::Normal,
        C::If,
        C::Will,
        C::LookFor,
        C::Believed,
        C::Awaited,
    ];
    if concepts.any(&[C::Alarm, C::AlarmOfSkin, C::Pain, C::Fever, C::Ill, C::NonBlanching]) {
        Gravity::Alarm
    } else if concepts.any(&marks) {
        Gravity::Mark
    } else if place.is_some() {
        Gravity::Place
    } else if concepts.any(&calms) {
        Gravity::Calming
    } else {
        Gravity::Plain
    }
}
