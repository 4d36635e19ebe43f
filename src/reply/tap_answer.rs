//! A reply that holds one of our own one-tap answers: read with certainty, with what was written
//! around it.
//!
//! Never here: the texts of the taps (language files).
//! Promises: words around a tap can make its reading worse, never calmer.

use super::Answering;
use super::lexicon::Lexicon;
use super::reading::Read;
use super::spelling::{Word, normal_words};
use super::taps::{NUMBER_SLOT, Tap};
use super::token::{TokenKind, tokens};
use crate::care::{Finding, Reading, Site, StepChoice};

/// A tap found in a reply.
pub(super) struct Tapped<'a> {
    tap: &'a Tap,
    step: Option<u32>,
    raw: String,
    rest: String,
}

/// The tap that a reply holds; none if it holds none or more than one.
pub(super) fn tapped<'a>(
    lexicon: &'a Lexicon,
    answering: Answering,
    words: &[Word],
) -> Option<Tapped<'a>> {
    let mut found = lexicon.taps(answering).iter().filter_map(|tap| in_reply(lexicon, tap, words));
    let first = found.next()?;
    found.next().is_none().then_some(first)
}

fn in_reply<'a>(lexicon: &Lexicon, tap: &'a Tap, words: &[Word]) -> Option<Tapped<'a>> {
    let body = tap.body.replace(NUMBER_SLOT, "1");
    let slot = tap.body.contains(NUMBER_SLOT);
    let wanted: Vec<Word> =
        normal_words(lexicon, &tokens(&body)).into_iter().filter(is_spoken).collect();
    let spoken: Vec<usize> = (0..words.len()).filter(|i| is_spoken(&words[*i])).collect();
    let start = spoken.windows(wanted.len().max(1)).position(|window| {
        window.iter().zip(&wanted).all(|(i, want)| {
            let number = slot && want.kind == TokenKind::Number;
            words[*i].text == want.text || number && words[*i].kind == TokenKind::Number
        })
    })?;
    let range = spoken[start]..=spoken[start + wanted.len() - 1];
    let step = words[range.clone()]
        .iter()
        .find(|w| slot && w.kind == TokenKind::Number)
        .and_then(|w| w.text.parse().ok());
    let raw: Vec<&str> = words[range.clone()].iter().map(|w| w.raw.as_str()).collect();
    let around = words[..*range.start()].iter().chain(&words[*range.end() + 1..]);
    let rest: Vec<&str> = around.map(|w| w.raw.as_str()).collect();
    let rest = rest.join(" ");
    Some(Tapped { tap, step, raw: raw.join(" "), rest })
}

fn is_spoken(word: &Word) -> bool {
    matches!(word.kind, TokenKind::Word | TokenKind::Number)
}

impl Tapped<'_> {
    /// What is written around it.
    pub(super) fn rest(&self) -> &str {
        &self.rest
    }

    /// The tap's reading together with that of what is written around it, and with the sites that
    /// are named there.
    pub(super) fn joined(self, rest: Read, sites: Vec<Site>) -> Read {
        let own = self.tap.reading;
        if gravity(rest.verdict.reading) > gravity(own) {
            return rest;
        }
        let contradicted = own.is_clinicians()
            && rest.verdict.reading.is_clinicians()
            && !matches!(rest.verdict.reading, Reading::Seen)
            && rest.verdict.reading != own
            && own != Reading::Seen;
        if contradicted {
            return rest;
        }
        let mut verdict = rest.verdict;
        verdict.reading = own;
        if verdict.sites.is_empty() && own.finding().is_some_and(|f| f > Finding::Clear) {
            verdict.sites = sites;
        }
        if own.finding().is_none() {
            verdict.sites.clear();
            verdict.minutes = None;
        }
        verdict.step = self.step.map(StepChoice::Step).or(verdict.step);
        if own != Reading::Resume {
            verdict.step = None;
        }
        Read { verdict, because: vec![self.raw] }
    }
}

/// How grave a reading is beside a tap; words that say nothing weigh nothing.
fn gravity(reading: Reading) -> u8 {
    match reading {
        Reading::Alarming => 9,
        Reading::Persisting => 8,
        Reading::Marked => 7,
        Reading::KeepStopped => 6,
        Reading::Faded
        | Reading::Clear
        | Reading::NotLooked
        | Reading::NoSitting
        | Reading::Started
        | Reading::Unclear
        | Reading::Automatic
        | Reading::Seen
        | Reading::Resume
        | Reading::Close => 0,
    }
}
