//! What a language has of each of its words, so that every word of a reply is looked up once.
//!
//! Never here: what words mean together; the spelling of words.
//! Promises: two words have the same number exactly if they are written the same; the number of a
//! word that the language has not is nobody else's.

use rustc_hash::FxHashMap;

use super::concept::Concepts;
use super::phrase::Opened;

/// The number of a word among those of its language.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) struct WordId(u32);

/// What a language has of one word.
#[derive(Debug, Default)]
pub(crate) struct Entry {
    /// Its number; 0 for a word that is in no table.
    pub id: WordId,
    /// The word, folded.
    pub text: String,
    /// Whether the language has it as a written word.
    pub is_known: bool,
    /// The words that it stands for, where those are others.
    pub rewritten: Option<Vec<WordId>>,
    /// The number that it says.
    pub number: Option<u32>,
    /// The step that it numbers: 'third'.
    pub ordinal: Option<u32>,
    /// It joins two numbers.
    pub joins_numbers: bool,
    /// It may open a time or a duration.
    pub opens_time: bool,
    /// It puts a time into the forenoon or afternoon.
    pub is_half_of_day: bool,
    /// What it says as a phrase of its own.
    pub alone: Concepts,
    /// The phrases that it opens.
    pub opened: Opened,
    /// The spans of time that it opens, by the words after it, in minutes.
    pub spans: Vec<(Vec<WordId>, u32)>,
    /// Which ways to say a time of day begin with it.
    pub sayings: Vec<usize>,
}

/// All words of a language.
#[derive(Debug)]
pub(crate) struct Vocabulary {
    ids: FxHashMap<String, WordId>,
    entries: Vec<Entry>,
}

impl Default for Vocabulary {
    /// No word but the entry of those that the language has not.
    fn default() -> Self {
        Self { ids: FxHashMap::default(), entries: vec![Entry::default()] }
    }
}

impl Vocabulary {
    /// The number of a word, which is taken in if it is new.
    pub(crate) fn id(&mut self, word: &str) -> WordId {
        if let Some(id) = self.ids.get(word) {
            return *id;
        }
        let id = WordId(u32::try_from(self.entries.len()).unwrap_or_default());
        self.ids.insert(word.to_owned(), id);
        self.entries.push(Entry { id, text: word.to_owned(), ..Entry::default() });
        id
    }

    /// The numbers of words, in their order.
    pub(crate) fn ids<'a>(&mut self, words: impl IntoIterator<Item = &'a String>) -> Vec<WordId> {
        words.into_iter().map(|word| self.id(word)).collect()
    }

    /// The entry of a word, to be filled in; it is taken in if it is new.
    pub(crate) fn entry(&mut self, word: &str) -> &mut Entry {
        let id = self.id(word);
        &mut self.entries[id.0 as usize]
    }

    /// The entry with a number, to be filled in.
    pub(crate) fn of_mut(&mut self, id: WordId) -> &mut Entry {
        &mut self.entries[id.0 as usize]
    }

    /// All entries.
    pub(crate) fn entries(&mut self) -> impl Iterator<Item = &mut Entry> {
        self.entries.iter_mut()
    }

    /// What the language has of a word; an empty entry if nothing.
    pub(crate) fn get(&self, word: &str) -> &Entry {
        self.of(self.ids.get(word).copied().unwrap_or_default())
    }

    /// The entry with a number.
    pub(crate) fn of(&self, id: WordId) -> &Entry {
        &self.entries[id.0 as usize]
    }
}
