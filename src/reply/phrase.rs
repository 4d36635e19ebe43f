//! Finding the phrases of a language in a reply.
//!
//! Never here: what phrases mean together.
//! Promises: the longest phrase at a place wins; no phrase reaches over a break.

use rustc_hash::FxHashMap;

use super::concept::Concepts;
use super::duration::duration;
use super::lexicon::Lexicon;
use super::numeral::numeral;
use super::spelling::Word;
use super::token::TokenKind;
use super::vocabulary::WordId;
use crate::care::Place;

/// Most words that a gap in a phrase may take.
const GAP_WORDS_MAX: usize = 2;

/// One element of a phrase.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Step {
    /// This word.
    Word(WordId),
    /// Up to two words of any kind.
    Gap,
    /// Any number.
    Number,
    /// The end of the statement: a break or the end of the reply.
    End,
}

/// A phrase found.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found {
    /// How many words it takes.
    pub length: usize,
    /// What it says.
    pub concepts: Concepts,
    /// The place it names.
    pub place: Option<Place>,
}

/// One phrase with what it stands for.
#[derive(Clone, Debug)]
pub(crate) struct Phrase {
    /// The elements after the first word.
    rest: Vec<Step>,
    /// How many words it takes at least.
    least: usize,
    /// What it says.
    pub concepts: Concepts,
    /// The place on the body that it names.
    place: Option<Place>,
}

/// The phrases that open with the same word, by what follows it: a common word such as 'no' opens
/// hundreds, of which few go on with the next word of a reply.
#[derive(Clone, Debug, Default)]
pub(crate) struct Opened {
    alone: Option<Phrase>,
    by_next: FxHashMap<WordId, Vec<Phrase>>,
    /// Those that go on with a number, a gap or an end.
    others: Vec<Phrase>,
}

impl Opened {
    /// Takes a phrase in, by the elements after its first word.
    pub(super) fn learn(&mut self, rest: Vec<Step>, concepts: Concepts, place: Option<Place>) {
        let known = match rest.first() {
            None => self.alone.as_mut(),
            Some(Step::Word(word)) => {
                let same = self.by_next.get_mut(word).into_iter().flatten();
                same.into_iter().find(|phrase| phrase.rest == rest)
            }
            Some(_) => self.others.iter_mut().find(|phrase| phrase.rest == rest),
        };
        if let Some(phrase) = known {
            phrase.concepts = phrase.concepts.with(concepts);
            phrase.place = phrase.place.or(place);
            return;
        }
        let next = rest.first().copied();
        let takes_one = |step: &&Step| matches!(step, Step::Word(_) | Step::Number);
        let least = 1 + rest.iter().filter(takes_one).count();
        let phrase = Phrase { rest, least, concepts, place };
        match next {
            None => self.alone = Some(phrase),
            Some(Step::Word(word)) => self.by_next.entry(word).or_default().push(phrase),
            Some(_) => self.others.push(phrase),
        }
    }

    /// The phrase that is its first word alone.
    pub(super) fn alone(&self) -> Option<&Phrase> {
        self.alone.as_ref()
    }

    /// What the first word says with nothing after it.
    pub(super) fn says_alone(&self) -> Concepts {
        let needs_nothing = |step: &Step| matches!(step, Step::Gap | Step::End);
        let whole = |phrase: &&Phrase| phrase.rest.iter().all(needs_nothing);
        let all = self.alone.iter().chain(&self.others).filter(whole);
        all.fold(Concepts::default(), |set, phrase| set.with(phrase.concepts))
    }

    /// The phrases that may go on with the next word.
    fn fitting(&self, next: Option<&Word>) -> impl Iterator<Item = &Phrase> {
        let named = next.and_then(|word| self.by_next.get(&word.entry.id)).into_iter().flatten();
        self.alone.iter().chain(named).chain(&self.others)
    }
}

/// The longest phrase of at most so many words that begins with the first word; two equally long
/// ones are taken together. Phrases that say nothing but what `deaf` holds are passed over.
pub(crate) fn longest(
    lexicon: &Lexicon,
    words: &[Word],
    limit: usize,
    deaf: Concepts,
) -> Option<Found> {
    let first = words.first()?;
    let by_number = Some(&lexicon.numbered).filter(|_| first.kind == TokenKind::Number);
    let opened = std::iter::once(&first.entry.opened).chain(by_number);
    let next = words.get(1).filter(|_| limit > 1);
    let phrases = opened.flat_map(|opened| opened.fitting(next));
    let mut best: Option<Found> = None;
    for phrase in phrases {
        let unsaid = phrase.concepts.is_within(deaf) && phrase.place.is_none();
        if unsaid || phrase.least > limit.min(words.len()) {
            continue;
        }
        let Some(rest) = matched(lexicon, &phrase.rest, &words[1..]) else { continue };
        let length = rest + 1;
        if length > limit {
            continue;
        }
        best = match best {
            Some(found) if found.length > length => Some(found),
            Some(found) if found.length == length => Some(Found {
                length,
                concepts: found.concepts.with(phrase.concepts),
                place: found.place.or(phrase.place),
            }),
            _ => Some(found_at(phrase, length)),
        };
    }
    best
}

fn found_at(phrase: &Phrase, length: usize) -> Found {
    Found { length, concepts: phrase.concepts, place: phrase.place }
}

/// What exactly this word says as one phrase.
pub(crate) fn concepts_alone(lexicon: &Lexicon, word: &Word) -> Concepts {
    if word.kind == TokenKind::Number {
        return word.entry.alone.with(lexicon.number_alone);
    }
    word.entry.alone
}

/// How many words the elements take, if they match.
fn matched(lexicon: &Lexicon, steps: &[Step], words: &[Word]) -> Option<usize> {
    let mut used = 0;
    for (at, step) in steps.iter().enumerate() {
        let (words, later) = (&words[used..], &steps[at + 1..]);
        match step {
            Step::Word(id) => {
                words.first().filter(|w| w.entry.id == *id && w.kind == TokenKind::Word)?;
                used += 1;
            }
            Step::Number => return numbered(lexicon, later, words).map(|more| used + more),
            Step::End => {
                let open = words.first().is_some_and(|w| {
                    matches!(w.kind, TokenKind::Word | TokenKind::Number | TokenKind::Picture)
                });
                if open {
                    return None;
                }
            }
            Step::Gap => {
                let is_open = |w: &Word| matches!(w.kind, TokenKind::Word | TokenKind::Number);
                return (0..=GAP_WORDS_MAX).find_map(|skip| {
                    let inside = words.get(..skip).filter(|inside| inside.iter().all(is_open))?;
                    let more = matched(lexicon, later, &words[inside.len()..])?;
                    Some(used + skip + more)
                });
            }
        }
    }
    Some(used)
}

/// How many words a number and the elements after it take, if they match.
fn numbered(lexicon: &Lexicon, later: &[Step], words: &[Word]) -> Option<usize> {
    let digits = words.first()?.kind == TokenKind::Number;
    let number = numeral(words).map(|(_, length)| length);
    let length = match duration(lexicon, words).map(|(_, length)| length).or(number) {
        Some(length) => length,
        None if digits => 1,
        None => return None,
    };
    // A pattern that names the unit itself takes the number alone.
    let whole = matched(lexicon, later, words.get(length..)?).map(|rest| length + rest);
    let alone = number.unwrap_or(1);
    whole.or_else(|| Some(alone + matched(lexicon, later, words.get(alone..)?)?))
}
