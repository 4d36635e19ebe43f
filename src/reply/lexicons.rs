//! The languages that replies are read in.
//!
//! Never here: files; the text of a language comes as an argument or from inside the program.
//! Promises: at least one language; no two with the same code.

use super::lexicon::{Lexicon, LexiconError};
use super::round::RoundWords;

/// The languages that come with the program, by code, with the text of their files. One line makes
/// a language folder part of the program.
pub const SHIPPED: &[(&str, &str)] = &[
    ("en", include_str!("../../config/languages/en/lexicon.toml")),
    ("es", include_str!("../../config/languages/es/lexicon.toml")),
    ("fr", include_str!("../../config/languages/fr/lexicon.toml")),
    ("de", include_str!("../../config/languages/de/lexicon.toml")),
];

/// Languages, in the order in which they are tried.
#[derive(Debug)]
pub struct Lexicons {
    all: Vec<Lexicon>,
    round: RoundWords,
}

impl Lexicons {
    /// The languages that come with the program.
    ///
    /// # Panics
    /// Never: a test reads every shipped file.
    pub fn shipped() -> Self {
        Self::parse(SHIPPED.iter().copied())
            .expect("OK because a test reads every language file that is shipped")
    }

    /// Reads languages from the texts of their `lexicon.toml`, by code.
    ///
    /// # Errors
    /// When a text is no language file.
    pub fn parse<'a>(
        texts: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Result<Self, LexiconError> {
        let all: Result<Vec<Lexicon>, LexiconError> =
            texts.into_iter().map(|(code, text)| Lexicon::parse(code, text)).collect();
        let all = all?;
        let round = RoundWords::of_all(all.iter().map(Lexicon::round));
        Ok(Self { all, round })
    }

    /// The language with a code.
    pub fn get(&self, code: &str) -> Option<&Lexicon> {
        self.all.iter().find(|lexicon| lexicon.code() == code)
    }

    /// The codes, in the order in which the languages are tried.
    pub fn codes(&self) -> impl Iterator<Item = &str> {
        self.all.iter().map(Lexicon::code)
    }

    /// All languages.
    pub(super) fn all(&self) -> impl Iterator<Item = &Lexicon> {
        self.all.iter()
    }

    /// How one reply speaks of several clients, in all languages together.
    pub(super) fn round(&self) -> &RoundWords {
        &self.round
    }

    /// All languages, the named one first.
    pub(crate) fn in_order<'a>(&'a self, first: &'a str) -> impl Iterator<Item = &'a Lexicon> {
        let named = self.all.iter().filter(move |lexicon| lexicon.code() == first);
        named.chain(self.all.iter().filter(move |lexicon| lexicon.code() != first))
    }
}
