//! Written words → normal words of one language: contractions spelled out, plurals, stretched and
//! misspelled words, words run together, pictographs.
//!
//! Never here: what a word means.
//! Promises: a word the language has is never changed into another; of two words equally near, the
//! graver is taken; a word that is near to none stays, and is marked unknown.

use std::borrow::Cow;
use std::cell::LazyCell;
use std::cmp::Reverse;
use std::collections::{HashMap, HashSet};

use super::concept::Concept;
use super::heard::Heard;
use super::lexicon::{Gravity, Lexicon, letters_of, part};
use super::token::{Token, TokenKind};
use super::vocabulary::Entry;

/// Most different misspelled words that are looked up in one reply; the rest stay unknown.
const LOOKUPS_MAX: usize = 150;

/// How sure the normal form is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Spelled {
    /// As in the language file.
    Exactly,
    /// Corrected.
    Nearly,
    /// Corrected, though another word of other gravity is as near.
    Guessed,
    /// Not a word of this language.
    Unknown,
}

/// One normal word, number or break.
#[derive(Clone, Debug)]
pub(crate) struct Word<'a> {
    /// The normal form.
    pub text: Cow<'a, str>,
    /// As written.
    pub raw: &'a str,
    /// What it is.
    pub kind: TokenKind,
    /// How sure the form is.
    pub spelled: Spelled,
    /// Written directly after the one before.
    pub glued: bool,
    /// The first on a line that may have been wrapped.
    pub wrapped: bool,
    /// What the language has of the normal form.
    pub entry: &'a Entry,
}

/// The normal words of a reply in one language.
pub(crate) fn normal_words<'a>(heard: &Heard<'a>) -> Vec<Word<'a>> {
    let Heard { lexicon, tokens, senses } = *heard;
    let mut speller = Speller { lexicon, met: HashSet::new(), found: HashMap::new() };
    let is_shouted = LazyCell::new(|| is_shouted(tokens));
    let may_run_out = tokens.len() > LOOKUPS_MAX;
    let mut out: Vec<Word> = Vec::with_capacity(tokens.len() + 8);
    for (i, token) in tokens.iter().enumerate() {
        let entry = senses[i].entry;
        let word = |text: Cow<'a, str>, entry: &'a Entry, n: usize| Word {
            text,
            raw: if n == 0 { &token.raw } else { "" },
            kind: if token.kind == TokenKind::Picture { TokenKind::Word } else { token.kind },
            spelled: Spelled::Exactly,
            glued: token.glued && n == 0,
            wrapped: token.wrapped && n == 0,
            entry,
        };
        let same = || word(Cow::Borrowed(&token.text), entry, 0);
        let others = entry.rewritten.iter().flatten().map(|id| lexicon.entry_of(*id)).enumerate();
        let rewritten = others.map(|(n, other)| word(Cow::Borrowed(&other.text), other, n));
        match token.kind {
            TokenKind::Picture => {
                out.extend(rewritten);
                continue;
            }
            TokenKind::Word => {}
            _ => {
                out.push(same());
                continue;
            }
        }
        if let Some(form) = capitals(lexicon, tokens, i, &is_shouted) {
            out.push(word(Cow::Borrowed(form), lexicon.entry(form), 0));
            continue;
        }
        if is_unit_of_number(tokens, i, entry) {
            out.push(same());
            continue;
        }
        let may_correct = !may_run_out || speller.may_correct(&token.text);
        match &entry.rewritten {
            Some(others) if !others.is_empty() => out.extend(rewritten),
            None if entry.is_known => out.push(same()),
            _ => {
                let (forms, spelled) = speller.normal(&token.text, may_correct);
                for (n, text) in forms.iter().enumerate() {
                    let entry = lexicon.entry(text);
                    out.push(Word { spelled: *spelled, ..word(text.clone().into(), entry, n) });
                }
            }
        }
    }
    out
}

/// Finds the normal words of those that are written otherwise, each of them once.
struct Speller<'a> {
    lexicon: &'a Lexicon,
    met: HashSet<&'a str>,
    found: HashMap<&'a str, (Vec<String>, Spelled)>,
}

impl<'a> Speller<'a> {
    /// Whether a word that is met may still be corrected.
    fn may_correct(&mut self, word: &'a str) -> bool {
        let may = self.met.len() < LOOKUPS_MAX;
        self.met.insert(word);
        may
    }

    /// The normal words of one, and how sure they are.
    fn normal(&mut self, word: &'a str, may_correct: bool) -> &(Vec<String>, Spelled) {
        let lexicon = self.lexicon;
        self.found.entry(word).or_insert_with(|| normal(lexicon, word, may_correct))
    }
}

/// Words such as `IT` that mean something else in capitals. In a reply that is all capitals they
/// do so only directly after a side.
fn capitals<'a>(
    lexicon: &'a Lexicon,
    tokens: &[Token],
    i: usize,
    is_shouted: &impl std::ops::Deref<Target = bool>,
) -> Option<&'a str> {
    let form = lexicon.capitals.get(tokens[i].raw.as_ref())?;
    let after_one_letter = i > 0 && tokens[i - 1].text.chars().count() <= 2;
    (after_one_letter || !**is_shouted).then_some(form)
}

/// '3rd' is no 'red': a unit of the language, written onto a number, stays as it is.
fn is_unit_of_number(tokens: &[Token], i: usize, entry: &Entry) -> bool {
    let onto = tokens[i].glued && i > 0 && tokens[i - 1].kind == TokenKind::Number;
    let units = [Concept::OtherUnit, Concept::MinuteUnit, Concept::HourUnit];
    onto && entry.opened.alone().is_some_and(|phrase| phrase.concepts.any(&units))
}

fn is_shouted(tokens: &[Token]) -> bool {
    let words = tokens.iter().filter(|t| t.kind == TokenKind::Word && t.raw.chars().count() > 3);
    let (mut all, mut loud) = (0, 0);
    for token in words {
        all += 1;
        loud += usize::from(!token.raw.chars().any(char::is_lowercase));
    }
    all > 0 && loud * 2 > all
}

fn normal(lexicon: &Lexicon, word: &str, may_correct: bool) -> (Vec<String>, Spelled) {
    let exact = unfolded(lexicon, word);
    if !exact.is_empty() {
        return (exact, Spelled::Exactly);
    }
    if let Some(stem) = stem(lexicon, word) {
        // A plain word made of a plain one stays what it is; 'screaming' counts as 'scream'.
        let grave = lexicon.gravity(&stem) >= Gravity::Mark;
        return (vec![if grave { stem } else { word.to_owned() }], Spelled::Exactly);
    }
    for shorter in unstretched(word) {
        let forms = unfolded(lexicon, &shorter);
        if !forms.is_empty() {
            return (forms, Spelled::Nearly);
        }
    }
    if may_correct && word.len() <= 24 {
        if let Some((near, spelled)) = nearest(lexicon, word) {
            return (rewritten(lexicon, &near), spelled);
        }
        if let Some(halves) = run_together(lexicon, word) {
            return (halves, Spelled::Nearly);
        }
    }
    (vec![word.to_owned()], Spelled::Unknown)
}

/// The normal words of a word that the language has; empty if it has not.
fn unfolded(lexicon: &Lexicon, word: &str) -> Vec<String> {
    if lexicon.knows(word) {
        return rewritten(lexicon, word);
    }
    if let [elided, rest] = part(word.to_owned(), &lexicon.elisions).as_slice() {
        let mut forms = vec![elided.clone()];
        let after = unfolded(lexicon, rest);
        forms.extend(if after.is_empty() { vec![rest.clone()] } else { after });
        return forms;
    }
    for (ending, words) in &lexicon.endings {
        if let Some(stem) = word.strip_suffix(ending.as_str())
            && !stem.is_empty()
        {
            let mut forms = unfolded(lexicon, stem);
            if forms.is_empty() {
                forms.push(stem.to_owned());
            }
            forms.extend(words.iter().cloned());
            return forms;
        }
    }
    for ending in &lexicon.plural {
        if let Some(stem) = word.strip_suffix(ending.as_str())
            && stem.len() >= 3
            && lexicon.knows(stem)
        {
            return rewritten(lexicon, stem);
        }
    }
    Vec::new()
}

/// The word of the language that another is made of: 'scream' of 'screaming'.
fn stem(lexicon: &Lexicon, word: &str) -> Option<String> {
    lexicon.derived.iter().find_map(|ending| {
        let stem = word.strip_suffix(ending.as_str()).filter(|stem| stem.len() >= 4)?;
        // 'Stopping': the doubled letter goes too, and only a doubled one.
        let doubled = stem.chars().rev().nth(1) == stem.chars().next_back();
        let shorter = stem.get(..stem.len() - 1).filter(|_| doubled);
        let undoubled = shorter.unwrap_or(stem).to_owned();
        [stem.to_owned(), format!("{stem}e"), undoubled]
            .into_iter()
            .find(|form| lexicon.gravities.get(form).is_some_and(|g| *g != Gravity::Calming))
    })
}

fn rewritten(lexicon: &Lexicon, word: &str) -> Vec<String> {
    lexicon.rewrites.get(word).cloned().unwrap_or_else(|| vec![word.to_owned()])
}

/// The word with every letter that stands three times or more cut to two, and to one.
fn unstretched(word: &str) -> Vec<String> {
    let chars: Vec<char> = word.chars().collect();
    if !chars.windows(3).any(|w| w[0] == w[1] && w[1] == w[2]) {
        return Vec::new();
    }
    let cut = |keep: usize| {
        let kept = |run: &[char]| if run.len() < 3 { run.len() } else { keep };
        chars.chunk_by(|a, b| a == b).flat_map(|run| &run[..kept(run)]).collect()
    };
    vec![cut(2), cut(1)]
}

/// The nearest word of the language within the distance that the length allows.
fn nearest(lexicon: &Lexicon, word: &str) -> Option<(String, Spelled)> {
    let length = word.chars().count();
    let allowed = match length {
        0..=2 => return None,
        3..=6 => 1,
        _ => 2,
    };
    let first = word.chars().next();
    let mut nearest: Vec<Near> = Vec::new();
    let near_lengths = length.saturating_sub(allowed).max(3)..=length + allowed;
    let own = letters_of(word);
    let near = lexicon.by_length.range(near_lengths);
    for (candidate, letters) in near.flat_map(|(_, words)| words) {
        // Each slip takes at most one of the letters that a word has, and brings at most one; two
        // slips leave the first letter.
        let (lost, won) = (own & !letters, letters & !own);
        let differ = |slips: usize| !has_at_most(slips, lost) || !has_at_most(slips, won);
        if differ(allowed) || candidate.chars().next() != first && differ(1) {
            continue;
        }
        let other = candidate.chars().count();
        let distance = strsim::osa_distance(word, candidate);
        let fits = match (length.min(other), distance) {
            (_, 0) => true,
            // Three letters: only two of them swapped, or one lost from four.
            (3, 1) => other == length && same_letters(word, candidate) || other == 4 && length == 3,
            (_, 1) => true,
            (_, 2) => allowed == 2 && candidate.chars().next() == first,
            _ => false,
        };
        if !fits {
            continue;
        }
        if distance == 1 && other == length && length <= 5 && !is_slip(word, candidate) {
            continue;
        }
        let gravity = lexicon.gravity(candidate);
        // 'Fant' may be 'faint' as well as 'cant'; 'hsnt' has only lost a letter.
        let lost_letter = other == length + 1;
        let calmed = gravity == Gravity::Calming && length <= 4;
        if calmed && !lost_letter && !same_letters(word, candidate) {
            continue;
        }
        let letters = word.chars().zip(candidate.chars()).take(FIRST_LETTERS);
        let begins_alike = letters.take_while(|(a, b)| a == b).count();
        let swapped = same_letters(word, candidate);
        let near = Near { distance, swapped, begins_alike, gravity, candidate };
        if nearest.first().is_some_and(|n: &Near| n.distance > distance) {
            // A nearer word has no rivals among the farther ones.
            nearest.clear();
        }
        if nearest.first().is_none_or(|n| n.distance == distance) {
            nearest.push(near);
        }
    }
    // Slips come late in a word: 'fadded' is 'faded', not 'added'. What is grave stays in any case.
    let begins_alike = nearest.iter().map(|near| near.begins_alike).max()?;
    nearest.retain(|near| near.gravity > Gravity::Plain || near.begins_alike == begins_alike);
    let best = nearest.iter().min_by_key(|near| near.rank())?;
    let rivals = nearest.iter().any(|other| best.rivalled_by(other));
    let spelled = if rivals { Spelled::Guessed } else { Spelled::Nearly };
    Some((best.candidate.to_owned(), spelled))
}

/// Slips rarely come within so many first letters of a word.
const FIRST_LETTERS: usize = 2;
/// Whether at most so many bits are set.
fn has_at_most(count: usize, bits: u32) -> bool {
    (0..count).fold(bits, |left, _| left & left.wrapping_sub(1)) == 0
}

/// A word that a misspelled one is near to.
#[derive(Clone, Copy)]
struct Near<'a> {
    distance: usize,
    /// Whether it has the same letters in another order.
    swapped: bool,
    /// How many of the first letters they have together.
    begins_alike: usize,
    gravity: Gravity,
    candidate: &'a str,
}

impl Near<'_> {
    /// The least is taken.
    fn rank(&self) -> (usize, Reverse<Gravity>, &str) {
        (self.distance, Reverse(self.gravity), self.candidate)
    }

    /// 'Makrs' is 'marks' before it is 'makes'.
    fn rivalled_by(&self, other: &Self) -> bool {
        let surely = self.swapped && !other.swapped && self.gravity > other.gravity;
        self.gravity != other.gravity && !surely
    }
}

/// Whether two words of equal length differ as typing slips do: two letters swapped, or one letter
/// struck for its neighbour on the keyboard. Other words of that kind are words of their own
/// ('blank' is not 'black').
fn is_slip(word: &str, candidate: &str) -> bool {
    const ROWS: [&str; 3] = ["qwertyuiop", "asdfghjkl", "zxcvbnm"];
    let place = |c: char| {
        ROWS.iter().enumerate().find_map(|(row, keys)| keys.find(c).map(|column| (row, column)))
    };
    let mut differ = word.chars().zip(candidate.chars()).filter(|(a, b)| a != b);
    let (Some((a, b)), None) = (differ.next(), differ.next()) else { return true };
    match (place(a), place(b)) {
        (Some((r1, c1)), Some((r2, c2))) => r1.abs_diff(r2) <= 1 && c1.abs_diff(c2) <= 1,
        _ => false,
    }
}

fn same_letters(a: &str, b: &str) -> bool {
    let sorted = |word: &str| {
        let mut chars: Vec<char> = word.chars().collect();
        chars.sort_unstable();
        chars
    };
    sorted(a) == sorted(b)
}

/// Two words of the language written without the space between them.
fn run_together(lexicon: &Lexicon, word: &str) -> Option<Vec<String>> {
    let cuts = word.char_indices().map(|(i, _)| i).filter(|i| *i >= 2 && word.len() - i >= 3);
    for cut in cuts {
        let (left, right) = word.split_at(cut);
        let (mut forms, rest) = (unfolded(lexicon, left), unfolded(lexicon, right));
        if !forms.is_empty() && !rest.is_empty() && (left.len() >= 4 || right.len() >= 4) {
            forms.extend(rest);
            return Some(forms);
        }
    }
    None
}
