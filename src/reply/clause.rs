//! A reply as sentences, segments and items: what is said, in which order, joined by what.
//!
//! Never here: negation, readings.
//! Promises: items keep the order of the reply; a segment is never empty.

use std::borrow::Cow;
use std::cell::LazyCell;

use super::clock::{Said, clock};
use super::concept::{Concept, Concepts};
use super::cutter::Cutter;
use super::duration::duration;
use super::lexicon::Lexicon;
use super::numeral::numeral;
use super::phrase::{concepts_alone, longest};
use super::spelling::{Spelled, Word};
use super::token::TokenKind;
use crate::care::Place;

/// A segment is cut after so many items; nobody says so much in one breath. A reply that is cut so
/// is never read calm.
pub(crate) const SEGMENT_ITEMS_MAX: usize = 80;

/// One thing said.
#[derive(Clone, Debug)]
pub(crate) struct Item<'a> {
    /// What its words stand for; empty for a word that says nothing here.
    pub set: Concepts,
    /// The place that it names.
    pub place: Option<Place>,
    /// The time or number that it states.
    pub value: Value,
    /// As written.
    pub raw: Cow<'a, str>,
    /// The normal form of its last word.
    pub text: &'a str,
    /// Whether the language has the word.
    pub known: bool,
    /// Whether it is written as the language has it.
    pub exact: bool,
    /// Whether it is a guess at a misspelled word.
    pub guessed: bool,
    /// How it is meant.
    pub stance: Stance,
}

impl Item<'_> {
    /// Something that was begun and not said.
    pub(super) fn unsaid() -> Self {
        Self {
            set: Concepts::default(),
            place: None,
            value: Value::None,
            raw: Cow::Borrowed(""),
            text: "",
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
pub(crate) struct Segment<'a> {
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
    pub items: Vec<Item<'a>>,
    /// What any of its items stands for.
    pub(super) all: Concepts,
}

impl Segment<'_> {
    /// Whether any item stands for the concept, however it is meant.
    pub(crate) fn says(&self, concept: Concept) -> bool {
        self.all.has(concept)
    }

    /// Whether any item stands for any of them.
    pub(crate) fn says_any(&self, concepts: &[Concept]) -> bool {
        self.all.any(concepts)
    }

    /// Whether an item that is meant so stands for the concept.
    pub(crate) fn means(&self, concept: Concept, stance: Stance) -> bool {
        self.says(concept)
            && self.items.iter().any(|item| item.is(concept) && item.stance == stance)
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
            self.items.iter().map(|item| item.raw.as_ref()).filter(|raw| !raw.is_empty()).collect();
        words.join(" ")
    }
}

/// The segments of a reply; `deaf` is what this writer never says.
pub(crate) fn segments<'a>(
    lexicon: &Lexicon,
    words: &'a [Word],
    deaf: Concepts,
) -> Vec<Segment<'a>> {
    let mut cutter = Cutter::default();
    let places = places(lexicon, words, deaf);
    let mut at = 0;
    while at < words.len() {
        match words[at].kind {
            TokenKind::Stop => cutter.end_sentence(false),
            TokenKind::Question => cutter.end_sentence(true),
            TokenKind::Comma => cutter.join(Joint::Comma),
            TokenKind::Colon => cutter.join(Joint::Colon),
            TokenKind::Slash => cutter.join(Joint::Or),
            TokenKind::Word | TokenKind::Number | TokenKind::Picture => {
                let (item, used) = item(lexicon, words, at, &places[at].choice);
                if words[at].wrapped {
                    cutter.wrap();
                }
                let may_tell_time = item.is(Concept::AtTime) && item.is(Concept::Because);
                let of_time =
                    may_tell_time && places.get(at + used).is_some_and(|p| p.timed.is_some());
                cutter.take(item, of_time);
                at += used;
                continue;
            }
        }
        at += 1;
    }
    cutter.cut()
}

/// What may be read at the place of one word.
struct At {
    /// What the words from there on are taken for.
    choice: Choice,
    /// The time or number that stands there.
    timed: Timed,
}

/// What is read at each place, so that the phrases of the whole reply together are as long as can
/// be: 'it' + 'is back', not 'it is' + 'back'.
fn places(lexicon: &Lexicon, words: &[Word], deaf: Concepts) -> Vec<At> {
    let mut worth = vec![0usize; words.len() + 1];
    let mut places = Vec::with_capacity(words.len());
    for at in (0..words.len()).rev() {
        if !matches!(words[at].kind, TokenKind::Word | TokenKind::Number) {
            worth[at] = worth[at + 1];
            let choice = choice(lexicon, words, at, None, (1, deaf));
            places.push(At { choice, timed: None });
            continue;
        }
        let timed = timed(lexicon, words, at);
        let whole = choice(lexicon, words, at, timed, (usize::MAX, deaf));
        let used = whole.used;
        let single = if used > 1 { choice(lexicon, words, at, timed, (1, deaf)) } else { whole };
        let alone = worth[at + 1] + usize::from(!single.set.is_empty() || single.place.is_some());
        let together = worth[at + used] + used * used;
        // At a tie the earlier phrase is kept whole.
        let choice = if used > 1 && together >= alone { whole } else { single };
        worth[at] = if choice.used > 1 { together } else { alone };
        places.push(At { choice, timed });
    }
    places.reverse();
    places
}

/// What the words at a place are taken for.
#[derive(Clone, Copy)]
struct Choice {
    value: Value,
    used: usize,
    set: Concepts,
    place: Option<Place>,
}

/// A time or number, and how many words it takes.
type Timed = Option<(Value, usize)>;

/// The time or number at a place.
fn timed(lexicon: &Lexicon, words: &[Word], at: usize) -> Timed {
    let rest = &words[at..];
    let entry = rest[0].entry;
    let may_be = rest[0].kind == TokenKind::Number
        || entry.number.is_some()
        || entry.opens_time
        || entry.ordinal.is_some();
    if !may_be {
        return None;
    }
    let after_at = at > 0 && concepts_alone(lexicon, &words[at - 1]).has(Concept::AtTime);
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
        .or_else(|| numeral(rest).map(|(n, used)| (Value::Number(n), used)))
        .or_else(|| ordinal(lexicon, rest).map(|n| (Value::Number(n), 1)))
}

/// 'Third' in 'the third step'.
fn ordinal(lexicon: &Lexicon, words: &[Word]) -> Option<u32> {
    let number = words[0].entry.ordinal?;
    concepts_alone(lexicon, words.get(1)?).has(Concept::StepWord).then_some(number)
}

/// What the words at a place are taken for, at most so many of them.
fn choice(
    lexicon: &Lexicon,
    words: &[Word],
    at: usize,
    timed: Timed,
    (limit, deaf): (usize, Concepts),
) -> Choice {
    let rest = &words[at..];
    let phrase = longest(lexicon, rest, limit, deaf);
    let timed = timed.filter(|(_, used)| *used <= limit);
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

/// The item at a place, and how many words it takes.
fn item<'a>(lexicon: &Lexicon, words: &'a [Word], at: usize, choice: &Choice) -> (Item<'a>, usize) {
    let Choice { value, used, set, place } = *choice;
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
    let raw = match taken {
        [word] => Cow::Borrowed(word.raw),
        _ => {
            let written = taken.iter().map(|w| w.raw).filter(|raw| !raw.is_empty());
            Cow::Owned(written.collect::<Vec<_>>().join(" "))
        }
    };
    let text = taken.last().map_or("", |w| w.text.as_ref());
    (Item { set, place, value, raw, text, known, exact, guessed, stance: Stance::Plain }, used)
}

/// Whether a number alone can only be a body temperature, in °C or °F, with its tenths.
fn is_temperature(words: &[Word]) -> bool {
    let [word] = words else { return false };
    if word.kind != TokenKind::Number {
        return false;
    }
    let tenths = word.text.split_once(['.', ',']).is_some_and(|(_, tenths)| tenths.len() == 1);
    let degrees = word.text.replace(',', ".").parse::<f32>().ok();
    tenths && degrees.is_some_and(|d| (37.5..43.0).contains(&d) || (99.5..108.0).contains(&d))
}

/// The side that the name of a place holds: 'back of the left thigh'.
fn sides_inside(lexicon: &Lexicon, words: &[Word]) -> Concepts {
    let sides = [Concept::Left, Concept::Right, Concept::Both];
    let said = words.iter().map(|w| concepts_alone(lexicon, w));
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
