//! A reply as sentences, segments and items: what is said, in which order, joined by what.
//!
//! Never here: negation, readings.
//! Promises: items keep the order of the reply; a segment is never empty.

use std::cell::LazyCell;

use super::clock::{Said, clock};
use super::concept::{Concept, Concepts};
use super::cutter::Cutter;
use super::duration::duration;
use super::lexicon::Lexicon;
use super::numeral::numeral;
use super::phrase::{longest, phrase_concepts};
use super::spelling::{Spelled, Word};
use super::token::TokenKind;
use crate::care::Place;

/// A segment is cut after so many items; nobody says so much in one breath. A reply that is cut so
/// is never read calm.
pub(crate) const SEGMENT_ITEMS_MAX: usize = 80;

/// One thing said.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    /// What its words stand for; empty for a word that says nothing here.
    pub set: Concepts,
    /// The place that it names.
    pub place: Option<Place>,
    /// The time or number that it states.
    pub value: Value,
    /// As written.
    pub raw: String,
    /// The normal form of its last word.
    pub text: String,
    /// Whether the language has the word.
    pub known: bool,
    /// Whether it is written as the language has it.
    pub exact: bool,
    /// Whether it is a guess at a misspelled word.
    pub guessed: bool,
    /// How it is meant.
    pub stance: Stance,
}

impl Item {
    /// Something that was begun and not said.
    pub(super) fn unsaid() -> Self {
        Self {
            set: Concepts::default(),
            place: None,
            value: Value::None,
            raw: String::new(),
            text: String::new(),
            known: false,
            exact: true,
            guessed: false,
            stance: Stance::Plain,
        }
    }

    /// Whether it stands for the concept.
    pub(crate) fn is(&self, concept: Concept) -> bool {
        self.set.has(concept)
    }

    /// Whether it stands for any of them.
    pub(crate) fn is_any(&self, concepts: &[Concept]) -> bool {
        self.set.any(concepts)
    }
}

/// A time or a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Value {
    /// Neither.
    None,
    /// A clock time.
    Clock(Said),
    /// Minutes.
    Minutes(u32),
    /// A bare number.
    Number(u32),
}

/// How an item is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stance {
    /// It is so.
    Plain,
    /// It is not so.
    Denied,
    /// It is no longer so.
    Ended,
    /// It cannot be told whether it is so.
    Doubtful,
    /// It was looked for.
    Sought,
    /// It will or would be so.
    Supposed,
}

/// What joins a segment to the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Joint {
    /// It opens a sentence.
    Opening,
    /// A comma or bracket.
    Comma,
    /// A colon or dash.
    Colon,
    /// And.
    And,
    /// Or, nor, a slash.
    Or,
    /// But.
    But,
    /// Except.
    Except,
    /// Because, so, when.
    Because,
}

/// A stretch of a sentence between two joints.
#[derive(Clone, Debug)]
pub(crate) struct Segment {
    /// What joins it to the one before.
    pub joint: Joint,
    /// Which sentence it is in.
    pub sentence: usize,
    /// Whether its sentence is a question.
    pub question: bool,
    /// Whether its sentence ends with a question mark, and is short or asks in its course.
    pub queried: bool,
    /// Whether its sentence ends with a question mark, whatever it is.
    pub marked: bool,
    /// What it says; never empty.
    pub items: Vec<Item>,
}

impl Segment {
    /// Whether any item stands for the concept, however it is meant.
    pub(crate) fn says(&self, concept: Concept) -> bool {
        self.items.iter().any(|item| item.is(concept))
    }

    /// Whether any item stands for any of them.
    pub(crate) fn says_any(&self, concepts: &[Concept]) -> bool {
        self.items.iter().any(|item| item.is_any(concepts))
    }

    /// Whether an item that is meant so stands for the concept.
    pub(crate) fn means(&self, concept: Concept, stance: Stance) -> bool {
        self.items.iter().any(|item| item.is(concept) && item.stance == stance)
    }

    /// Whether a word that says nothing, and may be a misspelled 'not', stands directly beside the
    /// item.
    pub(crate) fn has_slip_beside(&self, i: usize) -> bool {
        // 'Nto gone': what was taken for a small word may be a 'not' as well.
        let small = [
            Concept::Preposition,
            Concept::Article,
            Concept::Definite,
            Concept::Within,
            Concept::AtTime,
        ];
        let slip = |item: &Item| {
            let says_little = item.set.is_empty() || item.is_any(&small);
            !item.exact && says_little && item.place.is_none()
        };
        let before = i.checked_sub(1).and_then(|b| self.items.get(b));
        before.is_some_and(slip) || self.items.get(i + 1).is_some_and(slip)
    }

    /// Whether it names a place.
    pub(crate) fn has_place(&self) -> bool {
        self.items.iter().any(|item| item.place.is_some())
    }

    /// The words as written.
    pub(crate) fn raw(&self) -> String {
        let words: Vec<&str> =
            self.items.iter().map(|item| item.raw.as_str()).filter(|raw| !raw.is_empty()).collect();
        words.join(" ")
    }
}

/// The segments of a reply; `deaf` is what this writer never says.
pub(crate) fn segments(lexicon: &Lexicon, words: &[Word], deaf: Concepts) -> Vec<Segment> {
    let mut cutter = Cutter::default();
    let cuts = best_cuts(lexicon, words, deaf);
    let mut at = 0;
    while at < words.len() {
        match words[at].kind {
            TokenKind::Stop => cutter.end_sentence(false),
            TokenKind::Question => cutter.end_sentence(true),
            TokenKind::Comma => cutter.join(Joint::Comma),
            TokenKind::Colon => cutter.join(Joint::Colon),
            TokenKind::Slash => cutter.join(Joint::Or),
            TokenKind::Word | TokenKind::Number | TokenKind::Picture => {
                let (item, used) = item(lexicon, words, at, cuts[at], deaf);
                if words[at].wrapped {
                    cutter.wrap();
                }
                let may_tell_time = item.is(Concept::AtTime) && item.is(Concept::Because);
                let of_time = may_tell_time
                    && at + used < words.len()
                    && timed(lexicon, words, at + used).is_some();
                cutter.take(item, of_time);
                at += used;
                continue;
            }
        }
        at += 1;
    }
    cutter.cut()
}

/// How many words the item at each place takes, so that the phrases of the whole reply together are
/// as long as can be: 'it' + 'is back', not 'it is' + 'back'.
fn best_cuts(lexicon: &Lexicon, words: &[Word], deaf: Concepts) -> Vec<usize> {
    let mut worth = vec![0usize; words.len() + 1];
    let mut cuts = vec![1; words.len()];
    for at in (0..words.len()).rev() {
        let open = matches!(words[at].kind, TokenKind::Word | TokenKind::Number);
        if !open {
            worth[at] = worth[at + 1];
            continue;
        }
        let longest = choice(lexicon, words, at, usize::MAX, deaf);
        let used = longest.used;
        let single = if used > 1 { choice(lexicon, words, at, 1, deaf) } else { longest };
        let alone = worth[at + 1] + usize::from(!single.set.is_empty() || single.place.is_some());
        let together = worth[at + used] + used * used;
        // At a tie the earlier phrase is kept whole.
        (worth[at], cuts[at]) =
            if used > 1 && together >= alone { (together, used) } else { (alone, 1) };
    }
    cuts
}

/// What the words at a place are taken for.
struct Choice {
    value: Value,
    used: usize,
    set: Concepts,
    place: Option<Place>,
}

/// The time or number at a place.
fn timed(lexicon: &Lexicon, words: &[Word], at: usize) -> Option<(Value, usize)> {
    let rest = &words[at..];
    let may_be = rest[0].kind == TokenKind::Number
        || lexicon.numbers.contains_key(&rest[0].text)
        || lexicon.time_openers.contains(&rest[0].text)
        || lexicon.ordinals.contains_key(&rest[0].text);
    if !may_be {
        return None;
    }
    let after_at = at > 0
        && phrase_concepts(lexicon, std::slice::from_ref(&words[at - 1])).has(Concept::AtTime);
    // Asked for up to three times, and dear.
    let clock = LazyCell::new(|| {
        clock(lexicon, rest, after_at).map(|(said, used)| (Value::Clock(said), used))
    });
    let glued_unit = rest.get(1).is_some_and(|w| w.glued && w.kind == TokenKind::Word);
    // 'Depuis 10h' and '14.00 hrs' are clock times, 'depuis 2 heures' how long.
    let of_day = rest[0].text.len() == 5 && rest[0].text.contains(['.', ':']);
    let at_hour = (after_at && glued_unit || of_day).then(|| *clock).flatten();
    let lasting = duration(lexicon, rest).map(|(minutes, used)| (Value::Minutes(minutes), used));
    // 'Ten minutes past eleven'.
    let longer = || lasting.and_then(|(_, shorter)| clock.filter(|(_, used)| *used > shorter));
    at_hour
        .or_else(longer)
        .or(lasting)
        .or_else(|| *clock)
        .or_else(|| numeral(lexicon, rest).map(|(n, used)| (Value::Number(n), used)))
        .or_else(|| ordinal(lexicon, rest).map(|n| (Value::Number(n), 1)))
}

/// 'Third' in 'the third step'.
fn ordinal(lexicon: &Lexicon, words: &[Word]) -> Option<u32> {
    let number = lexicon.ordinals.get(&words[0].text).copied()?;
    let step = phrase_concepts(lexicon, words.get(1..2)?);
    step.has(Concept::StepWord).then_some(number)
}

/// What the words at a place are taken for, at most so many of them.
fn choice(lexicon: &Lexicon, words: &[Word], at: usize, limit: usize, deaf: Concepts) -> Choice {
    let rest = &words[at..];
    let phrase = longest(lexicon, rest, limit, deaf);
    let timed = timed(lexicon, words, at).filter(|(_, used)| *used <= limit);
    let phrase_length = phrase.map_or(0, |found| found.length);
    let (value, used, set, place) = match (timed, phrase) {
        // A number word such as 'one' is also a word: the longer reading wins, the time at a tie.
        (Some((value, used)), _) if used > phrase_length => {
            (value, used, Concepts::default(), None)
        }
        (Some((value, used)), Some(found)) if used == phrase_length => {
            (value, used, found.concepts, found.place)
        }
        (_, Some(found)) => (
            value_inside(lexicon, &rest[..found.length]),
            found.length,
            found.concepts,
            found.place,
        ),
        (Some((value, used)), None) => (value, used, Concepts::default(), None),
        (None, None) => (Value::None, 1, Concepts::default(), None),
    };
    Choice { value, used, set, place }
}

/// The item at a place, of at most so many words.
fn item(
    lexicon: &Lexicon,
    words: &[Word],
    at: usize,
    limit: usize,
    deaf: Concepts,
) -> (Item, usize) {
    let Choice { value, used, set, place } = choice(lexicon, words, at, limit, deaf);
    let taken = &words[at..at + used];
    let set = if place.is_some() { set.with(sides_inside(lexicon, taken)) } else { set };
    // '0 marks'.
    let none = value == Value::Number(0) && taken.iter().all(|w| w.text == "0");
    let set = if none { set.with(Concepts::of(Concept::No)) } else { set };
    // '38.9 this morning'.
    let set = if is_temperature(taken) { set.with(Concepts::of(Concept::Fever)) } else { set };
    let known = value != Value::None
        || !set.is_empty()
        || place.is_some()
        || taken.iter().all(|word| word.spelled != Spelled::Unknown);
    let guessed = taken.iter().any(|word| word.spelled == Spelled::Guessed);
    let exact = taken.iter().all(|word| word.spelled == Spelled::Exactly);
    let raws: Vec<&str> =
        taken.iter().map(|w| w.raw.as_str()).filter(|raw| !raw.is_empty()).collect();
    let text = taken.last().map(|w| w.text.clone()).unwrap_or_default();
    (
        Item {
            set,
            place,
            value,
            raw: raws.join(" "),
            text,
            known,
            exact,
            guessed,
            stance: Stance::Plain,
        },
        used,
    )
}

/// Whether a number alone can only be a body temperature, in °C or °F, with its tenths.
fn is_temperature(words: &[Word]) -> bool {
    let [word] = words else { return false };
    let tenths = word.text.split_once(['.', ',']).is_some_and(|(_, tenths)| tenths.len() == 1);
    let degrees = word.text.replace(',', ".").parse::<f32>().ok();
    word.kind == TokenKind::Number
        && tenths
        && degrees.is_some_and(|d| (37.5..43.0).contains(&d) || (99.5..108.0).contains(&d))
}

/// The side that the name of a place holds: 'back of the left thigh'.
fn sides_inside(lexicon: &Lexicon, words: &[Word]) -> Concepts {
    let sides = [Concept::Left, Concept::Right, Concept::Both];
    let said = words.iter().map(|w| phrase_concepts(lexicon, std::slice::from_ref(w)));
    said.fold(Concepts::default(), |all, set| {
        sides
            .into_iter()
            .filter(|side| set.has(*side))
            .fold(all, |all, side| all.with(Concepts::of(side)))
    })
}

/// The time that a phrase such as 'went in # minutes' states.
fn value_inside(lexicon: &Lexicon, words: &[Word]) -> Value {
    (1..words.len())
        .find_map(|i| duration(lexicon, &words[i..]))
        .map_or(Value::None, |(minutes, _)| Value::Minutes(minutes))
}
