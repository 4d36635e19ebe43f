//! A reply as all languages have it.
//!
//! Never here: which of them is believed.
//! Promises: a language is asked once, and only if it must be.

use std::cell::OnceCell;

use super::heard::{Heard, Sense, senses};
use super::lexicon::Lexicon;
use super::lexicons::Lexicons;
use super::token::Token;

/// The tokens of a reply as each language has them; each is asked once, and only if it must be.
pub(super) struct Languages<'a> {
    tokens: &'a [Token<'a>],
    /// In the order in which they are tried.
    all: Vec<(&'a Lexicon, OnceCell<Vec<Sense<'a>>>)>,
    /// The contact's own, where it is one of them.
    pub(super) own: Option<usize>,
}

impl<'a> Languages<'a> {
    pub(super) fn new(
        lexicons: &'a Lexicons,
        first_language: &str,
        tokens: &'a [Token<'a>],
    ) -> Self {
        let all: Vec<_> = lexicons.all().map(|lexicon| (lexicon, OnceCell::new())).collect();
        let own = all.iter().position(|(lexicon, _)| lexicon.code() == first_language);
        Self { tokens, all, own }
    }

    pub(super) fn heard(&self, language: usize) -> Heard<'_> {
        let (lexicon, heard) = &self.all[language];
        Heard::new(lexicon, self.tokens, heard.get_or_init(|| senses(lexicon, self.tokens)))
    }

    /// The contact's own language first.
    pub(super) fn in_order(&self) -> impl Iterator<Item = usize> {
        let others = (0..self.all.len()).filter(|language| Some(*language) != self.own);
        self.own.into_iter().chain(others)
    }

    /// The reply in all languages but one.
    pub(super) fn all_but(&self, best: &Lexicon) -> impl Iterator<Item = Heard<'_>> {
        let others = (0..self.all.len()).filter(|i| self.all[*i].0.code() != best.code());
        others.map(|language| self.heard(language))
    }

    /// The languages with the share of the words that each knows, the best first; at equal shares
    /// the contact's language stays first.
    pub(super) fn ranked(&self) -> Vec<(usize, usize)> {
        let share = |language: usize| (self.heard(language).share_known(), language);
        let mut ranked: Vec<(usize, usize)> = self.in_order().map(share).collect();
        ranked.sort_by_key(|(share, _)| std::cmp::Reverse(*share));
        ranked
    }
}
