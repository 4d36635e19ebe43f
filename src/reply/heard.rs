//! The tokens of a reply as one language has them, before their spelling is mended.
//!
//! Never here: what a misspelled word may be, what words mean.
//! Promises: a word is looked up once for each language that is asked.

use super::lexicon::Lexicon;
use super::token::{Token, TokenKind};
use super::vocabulary::Entry;

/// Some tokens of a reply as one language has them.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Heard<'a> {
    pub lexicon: &'a Lexicon,
    pub tokens: &'a [Token<'a>],
    /// What the language has of each token as written.
    pub senses: &'a [Sense<'a>],
}

/// What a language has of a token as written.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sense<'a> {
    pub entry: &'a Entry,
    /// Whether the language has the word, be it with an ending.
    is_known: bool,
}

/// What a language has of each token.
pub(crate) fn senses<'a>(lexicon: &'a Lexicon, tokens: &[Token]) -> Vec<Sense<'a>> {
    let sense = |token: &Token| {
        let entry = lexicon.entry(&token.text);
        let is_word = token.kind == TokenKind::Word;
        Sense { entry, is_known: is_word && (entry.is_known || is_made_of_known(lexicon, token)) }
    };
    tokens.iter().map(sense).collect()
}

impl<'a> Heard<'a> {
    /// All tokens of a reply.
    pub(crate) fn new(
        lexicon: &'a Lexicon,
        tokens: &'a [Token<'a>],
        senses: &'a [Sense<'a>],
    ) -> Self {
        Self { lexicon, tokens, senses }
    }

    /// A stretch of them.
    pub(crate) fn part(self, range: std::ops::Range<usize>) -> Self {
        let (tokens, senses) = (&self.tokens[range.clone()], &self.senses[range]);
        Self { tokens, senses, ..self }
    }

    /// Whether the language has the word at a place.
    pub(crate) fn knows(&self, at: usize) -> bool {
        self.senses[at].is_known
    }

    /// The share of the words that the language has exactly, in percent.
    pub(crate) fn share_known(&self) -> usize {
        let all = self.tokens.iter().filter(|token| token.kind == TokenKind::Word).count();
        let known = self.senses.iter().filter(|sense| sense.is_known).count();
        (known * 100usize).checked_div(all).unwrap_or(0)
    }
}

/// Whether a word that the language has not is made of one that it has: whether `spelling`
/// finds any normal words of it as it is written.
fn is_made_of_known(lexicon: &Lexicon, token: &Token) -> bool {
    let word: &str = &token.text;
    let ends = |ending: &str| word.strip_suffix(ending).filter(|stem| !stem.is_empty());
    let is = |table: &[bool], byte: Option<u8>| byte.is_some_and(|b| table[usize::from(b)]);
    let is_elided = || {
        lexicon.elisions.iter().any(|(short, _)| {
            word.strip_prefix(short.as_str()).is_some_and(|rest| !rest.is_empty())
        })
    };
    let has_ending = || {
        lexicon.endings.iter().any(|(ending, _)| ends(ending).is_some())
            || lexicon.plural.iter().any(|ending| {
                ends(ending).is_some_and(|stem| stem.len() >= 3 && lexicon.knows(stem))
            })
    };
    is(&lexicon.begins_elided, word.bytes().next()) && is_elided()
        || is(&lexicon.ends_made, word.bytes().last()) && has_ending()
}
