//! A reply that holds one of our own one-tap answers: read with certainty, with what was written
//! around it.
//!
//! Never here: the texts of the taps (language files).
//! Promises: words around a tap can make its reading worse, never calmer.

use super::Answering;
use super::lexicon::Lexicon;
use super::reading::{NOTHING_SAID, Read};
use super::taps::{NUMBER_SLOT, Tap};
use super::token::{Token, TokenKind};
use crate::care::{Finding, Reading, Site, StepChoice};

/// A tap found in a reply.
pub(super) struct Tapped<'a> {
    tap: &'a Tap,
    step: Option<u32>,
    raw: String,
    rest: String,
}

/// Where the words of a reply stand among its tokens.
pub(super) struct Spoken {
    at: Vec<usize>,
    shapes: Shapes,
}

impl Spoken {
    pub(super) fn new(tokens: &[Token]) -> Self {
        let at: Vec<usize> = (0..tokens.len()).filter(|i| is_spoken(&tokens[*i])).collect();
        let shapes = at.iter().fold(Shapes(0), |all, i| all.with(&tokens[*i]));
        Self { at, shapes }
    }
}

/// What words look like from afar, one bit of 64 for each: most taps are passed by it.
#[derive(Clone, Copy, Debug)]
struct Shapes(u64);

impl Shapes {
    fn with(self, word: &Token) -> Self {
        let bytes = word.text.as_bytes();
        let ends = bytes.first().zip(bytes.last()).map_or(0, |(a, z)| usize::from(a ^ (z << 1)));
        Self(self.0 | 1 << ((ends + bytes.len() * 7) % 64))
    }

    fn holds(self, others: Self) -> bool {
        self.0 & others.0 == others.0
    }
}

/// The words of a tap's body.
#[derive(Debug)]
pub(super) struct Wanted {
    words: Vec<Token<'static>>,
    /// Of those that stand for themselves.
    shapes: Shapes,
}

/// The tap that a reply holds; none if it holds none or more than one.
pub(super) fn tapped<'a>(
    lexicon: &'a Lexicon,
    answering: Answering,
    tokens: &[Token],
    spoken: &Spoken,
) -> Option<Tapped<'a>> {
    let taps = lexicon.cut_taps(answering);
    let mut found = taps.filter_map(|(tap, wanted)| in_reply((tap, wanted), tokens, spoken));
    let first = found.next()?;
    found.next().is_none().then_some(first)
}

/// The words of a tap's body as they stand in a reply, where a number stands for any.
pub(super) fn cut(tap: &Tap) -> Wanted {
    let body = tap.body.replace(NUMBER_SLOT, "1");
    let words = super::token::tokens(&body).into_iter().filter(is_spoken);
    let words: Vec<Token> = words.map(Token::into_owned).collect();
    let fixed = words.iter().filter(|word| word.kind != TokenKind::Number);
    let shapes = fixed.fold(Shapes(0), Shapes::with);
    Wanted { words, shapes }
}

fn in_reply<'a>(
    (tap, wanted): (&'a Tap, &Wanted),
    tokens: &[Token],
    spoken: &Spoken,
) -> Option<Tapped<'a>> {
    if !spoken.shapes.holds(wanted.shapes) {
        return None;
    }
    let (wanted, spoken) = (&wanted.words, &spoken.at);
    let slot = tap.body.contains(NUMBER_SLOT);
    let start = spoken.windows(wanted.len().max(1)).position(|window| {
        window.iter().zip(wanted).all(|(i, want)| {
            let number = slot && want.kind == TokenKind::Number;
            tokens[*i].text == want.text || number && tokens[*i].kind == TokenKind::Number
        })
    })?;
    let range = spoken[start]..=spoken[start + wanted.len() - 1];
    if !stands_alone(tap, tokens, &range) {
        return None;
    }
    let step = tokens[range.clone()]
        .iter()
        .find(|token| slot && token.kind == TokenKind::Number)
        .and_then(|token| token.text.parse().ok());
    let raw = joined(&tokens[range.clone()]);
    let rest = [joined(&tokens[..*range.start()]), joined(&tokens[*range.end() + 1..])].join(" ");
    Some(Tapped { tap, step, raw, rest })
}

/// A tap is a sentence of its own: 'No marks apart from …' is no tap, but words to be read. What a
/// tap asks for may follow it.
fn stands_alone(tap: &Tap, tokens: &[Token], range: &std::ops::RangeInclusive<usize>) -> bool {
    let ends = |token: Option<&Token>| token.is_none_or(|t| t.kind == TokenKind::Stop);
    let before = range.start().checked_sub(1).and_then(|i| tokens.get(i));
    ends(before) && (tap.asks.is_some() || ends(tokens.get(range.end() + 1)))
}

fn joined(tokens: &[Token]) -> String {
    tokens.iter().map(|token| token.raw.as_ref()).collect::<Vec<_>>().join(" ")
}

fn is_spoken(token: &Token) -> bool {
    matches!(token.kind, TokenKind::Word | TokenKind::Number)
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
        // 'No marks', tapped, with 'not sure though' below it.
        let doubted = rest.verdict.reading == Reading::Unclear
            && rest.because.iter().any(|why| why != NOTHING_SAID);
        if doubted && gravity(own) == 0 && own != Reading::Seen {
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
