//! Written words → normal words of one language: contractions spelled out, plurals, stretched and
//! misspelled words, words run together, pictographs.
//!
//! Never here: what a word means.
//! Promises: a word the language has is never changed into another; of two words equally near, the
//! graver is taken; a word that is near to none stays, and is marked unknown.

use std::cmp::Reverse;
use std::collections::HashMap;

use super::concept::Concept;
use super::lexicon::{Gravity, Lexicon, letters_of, part};
use super::phrase::Opened;
use super::token::{Token, TokenKind};

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
pub(crate) struct Word {
    /// The normal form.
    pub text: String,
    /// As written.
    pub raw: String,
    /// What it is.
    pub kind: TokenKind,
    /// How sure the form is.
    pub spelled: Spelled,
    /// Written directly after the one before.
    pub glued: bool,
    /// The first on a line that may have been wrapped.
    pub wrapped: bool,
}

/// The normal words of a reply in one language.
pub(crate) fn normal_words(lexicon: &Lexicon, tokens: &[Token]) -> Vec<Word> {
    let shouted = is_shouted(tokens);
    let mut seen: HashMap<String, (Vec<String>, Spelled)> = HashMap::new();
    let mut out: Vec<Word> = Vec::with_capacity(tokens.len() + 8);
    for (i, token) in tokens.iter().enumerate() {
        let (forms, spelled) = match token.kind {
            TokenKind::Word => {
                if let Some(form) = capitals(lexicon, tokens, i, shouted) {
                    (vec![form], Spelled::Exactly)
                } else if is_unit_of_number(lexicon, tokens, i) {
                    (vec![token.text.clone()], Spelled::Exactly)
                } else if let Some(known) = seen.get(&token.text) {
                    known.clone()
                } else {
                    let found = normal(lexicon, &token.text, seen.len() < LOOKUPS_MAX);
                    seen.insert(token.text.clone(), found.clone());
                    found
                }
            }
            TokenKind::Picture => match lexicon.rewrites.get(&token.text) {
                Some(words) => (words.clone(), Spelled::Exactly),
                None => continue,
            },
            _ => (vec![token.text.clone()], Spelled::Exactly),
        };
        let is_word = matches!(token.kind, TokenKind::Word | TokenKind::Picture);
        for (n, text) in forms.into_iter().enumerate() {
            out.push(Word {
                text,
                raw: if n == 0 { token.raw.clone() } else { String::new() },
                kind: if is_word { TokenKind::Word } else { token.kind },
                spelled,
                glued: token.glued && n == 0,
                wrapped: token.wrapped && n == 0,
            });
        }
    }
    out
}

/// The share of a reply's words that the language has exactly, in percent.
pub(crate) fn share_known(lexicon: &Lexicon, tokens: &[Token]) -> usize {
    let words = tokens.iter().filter(|t| t.kind == TokenKind::Word);
    let (mut all, mut known) = (0, 0);
    for token in words {
        all += 1;
        known += usize::from(is_known(lexicon, &token.text));
    }
    (known * 100usize).checked_div(all).unwrap_or(0)
}

/// Words such as `IT` that mean something else in capitals. In a reply that is all capitals they
/// do so only directly after a side.
fn capitals(lexicon: &Lexicon, tokens: &[Token], i: usize, shouted: bool) -> Option<String> {
    let form = lexicon.capitals.get(&tokens[i].raw)?;
    let after_one_letter = i > 0 && tokens[i - 1].text.chars().count() <= 2;
    (!shouted || after_one_letter).then(|| form.clone())
}

/// '3rd' is no 'red': a unit of the language, written onto a number, stays as it is.
fn is_unit_of_number(lexicon: &Lexicon, tokens: &[Token], i: usize) -> bool {
    let onto = tokens[i].glued && i > 0 && tokens[i - 1].kind == TokenKind::Number;
    let units = [Concept::OtherUnit, Concept::MinuteUnit, Concept::HourUnit];
    let opened = lexicon.phrases.get(&tokens[i].text);
    onto && opened.and_then(Opened::alone).is_some_and(|phrase| phrase.concepts.any(&units))
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

/// Whether the language has a word: whether `unfolded` finds any normal words of it.
fn is_known(lexicon: &Lexicon, word: &str) -> bool {
    let ends = |ending: &str| word.strip_suffix(ending).filter(|stem| !stem.is_empty());
    lexicon.knows(word)
        || lexicon.elisions.iter().any(|(short, _)| {
            word.strip_prefix(short.as_str()).is_some_and(|rest| !rest.is_empty())
        })
        || lexicon.endings.iter().any(|(ending, _)| ends(ending).is_some())
        || lexicon
            .plural
            .iter()
            .any(|ending| ends(ending).is_some_and(|stem| stem.len() >= 3 && lexicon.knows(stem)))
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
            .find(|form| lexicon.vocabulary.get(form).is_some_and(|g| *g != Gravity::Calming))
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
    let near = lexicon.by_length.range(near_lengths).flat_map(|(_, words)| words);
    // Each slip changes at most two of the letters that a word has.
    let near = near.filter(|(_, letters)| (own ^ letters).count_ones() as usize <= 2 * allowed);
    for (candidate, _) in near {
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
