//! One language: its words and phrases, read from a `lexicon.toml`.
//!
//! Never here: files, the reading of a reply.
//! Promises: a lexicon that was read is complete and consistent; what is wrong in the text is
//! said with the language, the table and the entry.

use std::collections::BTreeMap;

use rustc_hash::FxHashMap;

use super::Answering;
use super::clock::ClockSaying;
use super::concept::{Concept, Concepts};
use super::fold::fold;
use super::lexicon_file::{ClockFile, LexiconFile};
use super::pattern::{Element, expand};
use super::phrase::{Opened, Step};
use super::round::RoundWords;
use super::tap_answer;
use super::taps::Tap;
use super::vocabulary::{Entry, Vocabulary, WordId};
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
    /// Whether an elided word begins with a byte, and whether an ending or plural ends in it.
    pub(crate) begins_elided: Vec<bool>,
    pub(crate) ends_made: Vec<bool>,
    pub(crate) rewrites: FxHashMap<String, Vec<String>>,
    pub(crate) capitals: FxHashMap<String, String>,
    /// Ways to say a time of day.
    pub(crate) clock: Vec<ClockSaying>,
    /// Those of them that a number begins, by the word that follows it, and those that no word
    /// follows.
    pub(crate) sayings_of_number: FxHashMap<Option<WordId>, Vec<usize>>,
    /// What puts a time into the afternoon, and into the forenoon.
    pub(crate) afternoon: Vec<HalfOfDay>,
    pub(crate) forenoon: Vec<HalfOfDay>,
    /// Every word of any phrase, with how grave it is to miss.
    pub(crate) gravities: FxHashMap<String, Gravity>,
    /// The same words and the contractions, by their length in letters, each with the letters it
    /// has, for misspellings.
    pub(crate) by_length: BTreeMap<usize, Vec<(String, u32)>>,
    /// Every word in any table.
    vocabulary: Vocabulary,
    /// The phrases that a number opens.
    pub(crate) numbered: Opened,
    /// What a number says with nothing after it.
    pub(crate) number_alone: Concepts,
    taps: BTreeMap<Answering, Vec<Tap>>,
    /// The words of each tap's body, in the same order.
    tap_words: BTreeMap<Answering, Vec<tap_answer::Wanted>>,
    round: RoundWords,
}

/// Words that put a time into one half of the day.
#[derive(Debug)]
pub(crate) struct HalfOfDay {
    pub words: Vec<WordId>,
    /// How long it is, in bytes.
    pub length: usize,
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
        let mut lexicon = Self {
            code: code.to_owned(),
            plural: file.plural.iter().map(|e| fold(e)).collect(),
            derived: file.derived.iter().map(|e| fold(e)).collect(),
            endings: file.endings.iter().map(|(k, v)| (fold(k), split(v, &[]))).collect(),
            rewrites: file.rewrites.iter().map(|(k, v)| (fold(k), split(v, &elisions))).collect(),
            capitals: file.capitals.clone().into_iter().collect(),
            clock: Vec::new(),
            sayings_of_number: FxHashMap::default(),
            afternoon: Vec::new(),
            forenoon: Vec::new(),
            gravities: FxHashMap::default(),
            by_length: BTreeMap::new(),
            vocabulary: Vocabulary::default(),
            numbered: Opened::default(),
            number_alone: Concepts::default(),
            begins_elided: vec![false; 256],
            ends_made: vec![false; 256],
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
            let sayings = ClockSaying::parse(say, minute, &mut lexicon.vocabulary);
            lexicon.clock.extend(sayings.map_err(entry("clock"))?);
        }
        lexicon.learn_times(&file);
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
        lexicon.learn_plain(&file);
        lexicon.sort_by_length();
        lexicon.sum_up();
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
    pub(super) fn cut_taps(
        &self,
        answering: Answering,
    ) -> impl Iterator<Item = (&Tap, &tap_answer::Wanted)> {
        let words = self.tap_words.get(&answering).into_iter().flatten();
        self.taps(answering).iter().zip(words)
    }

    /// How one reply speaks of several clients.
    pub(super) fn round(&self) -> &RoundWords {
        &self.round
    }

    /// What the language has of a written word; an empty entry if nothing.
    pub(crate) fn entry(&self, word: &str) -> &Entry {
        self.vocabulary.get(word)
    }

    /// The entry with a number.
    pub(crate) fn entry_of(&self, id: WordId) -> &Entry {
        self.vocabulary.of(id)
    }

    /// Whether the language has this written word.
    pub(crate) fn knows(&self, word: &str) -> bool {
        self.entry(word).is_known
    }

    /// How grave it is to miss a written word; of a contraction, the calmest of its words.
    pub(crate) fn gravity(&self, word: &str) -> Gravity {
        let own = |word: &str| self.gravities.get(word).copied().unwrap_or(Gravity::Plain);
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
                let known = self.gravities.entry(word.clone()).or_insert(own);
                *known = match (*known, own) {
                    (Gravity::Plain, _) => own,
                    (_, Gravity::Plain) => *known,
                    (before, now) => before.max(now),
                };
            }
        }
        let mut steps = sequence.into_iter().map(|element| match element {
            Element::Word(word) => Step::Word(self.vocabulary.id(&word)),
            Element::Gap => Step::Gap,
            Element::Number => Step::Number,
            Element::End => Step::End,
        });
        let Some(first) = steps.next() else { return };
        let rest = steps.collect();
        match first {
            Step::Word(id) => self.vocabulary.of_mut(id).opened.learn(rest, concepts, place),
            Step::Number => self.numbered.learn(rest, concepts, place),
            Step::Gap | Step::End => {}
        }
    }

    /// Takes in what times of day, spans of time and numbers are said with.
    fn learn_times(&mut self, file: &LexiconFile) {
        let words = &mut self.vocabulary;
        for (word, number) in &file.numbers {
            words.entry(&fold(word)).number = Some(*number);
        }
        for (word, number) in &file.ordinals {
            words.entry(&fold(word)).ordinal = Some(*number);
        }
        for word in entries(&file.number_joints) {
            words.entry(&fold(word)).joins_numbers = true;
        }
        for (span, minutes) in &file.durations {
            let span = split(span, &self.elisions);
            if let Some((first, rest)) = span.split_first() {
                let rest = words.ids(rest);
                let first = words.entry(first);
                first.spans.push((rest, *minutes));
                first.opens_time = true;
            }
        }
        let mut halves = |list: &str| -> Vec<HalfOfDay> {
            let halves = entries(list).map(|entry| {
                let phrase = split(entry, &self.elisions).join(" ");
                words.entry(&phrase).is_half_of_day = true;
                let parts: Vec<String> = phrase.split_whitespace().map(str::to_owned).collect();
                HalfOfDay { words: words.ids(&parts), length: phrase.len() }
            });
            halves.collect()
        };
        (self.afternoon, self.forenoon) = (halves(&file.afternoon), halves(&file.forenoon));
        for (at, saying) in self.clock.iter().enumerate() {
            if let Some(opener) = saying.opener() {
                let entry = self.vocabulary.of_mut(opener);
                entry.sayings.push(at);
                entry.opens_time = true;
            } else {
                self.sayings_of_number.entry(saying.second()).or_default().push(at);
            }
        }
    }

    fn sort_by_length(&mut self) {
        let mut words: Vec<String> =
            self.gravities.keys().chain(self.rewrites.keys()).cloned().collect();
        words.sort();
        words.dedup();
        for word in words {
            let letters = letters_of(&word);
            self.by_length.entry(word.chars().count()).or_default().push((word, letters));
        }
    }

    /// Words that say nothing here, so that they are not taken for misspellings of others.
    fn learn_plain(&mut self, file: &LexiconFile) {
        let text = |id: WordId| self.vocabulary.of(id).text.clone();
        let halves = self.afternoon.iter().chain(&self.forenoon).flat_map(|half| &half.words);
        let sayings = self.clock.iter().flat_map(ClockSaying::words);
        let times = halves.copied().chain(sayings).map(text);
        let spans = file.durations.keys().flat_map(|span| split(span, &self.elisions));
        let rewritten = self.rewrites.values().chain(self.endings.iter().map(|(_, words)| words));
        let numbers = file.numbers.keys().chain(file.ordinals.keys()).map(|word| fold(word));
        let plain = file.plain.split_whitespace().map(fold);
        let words = times.chain(spans).chain(rewritten.flatten().cloned()).chain(numbers);
        let words: Vec<String> = words.chain(plain).collect();
        for word in words {
            self.gravities.entry(word).or_insert(Gravity::Plain);
        }
    }

    /// Brings together what all tables have of each word.
    fn sum_up(&mut self) {
        for word in self.gravities.keys().chain(self.rewrites.keys()) {
            self.vocabulary.entry(word).is_known = true;
        }
        for (word, others) in &self.rewrites {
            let others = self.vocabulary.ids(others);
            self.vocabulary.entry(word).rewritten = Some(others);
        }
        for entry in self.vocabulary.entries() {
            entry.is_known |= entry.number.is_some();
            entry.alone = entry.opened.says_alone();
        }
        self.number_alone = self.numbered.says_alone();
        for first in self.elisions.iter().filter_map(|(short, _)| short.bytes().next()) {
            self.begins_elided[usize::from(first)] = true;
        }
        let endings = self.endings.iter().map(|(ending, _)| ending).chain(&self.plural);
        for last in endings.filter_map(|ending| ending.bytes().last()) {
            self.ends_made[usize::from(last)] = true;
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
