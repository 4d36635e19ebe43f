//! One reply to several requests → whose each piece of it is.
//!
//! A name that opens a statement takes the words after it; a name that is the only one in its line
//! takes the line. Words before any name that speak of everybody are everybody's who is not named;
//! words that speak of the rest are theirs. All others are nobody's in particular.
//!
//! Never here: what any words mean but names and the words of a round.
//! Promises: no word is lost; a line in which it cannot be told which words are whose is tangled, and
//! all of it is said of everyone it names.

use super::roll::Roll;
use super::runs::{Run, runs};
use super::words::RoundWords;

/// A line as long as this was perhaps wrapped by a mail program.
const WRAPPED_LINE_CHARS_MIN: usize = 60;

/// Whose a piece is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Whose {
    /// It is said of these clients, who are named.
    Named(Vec<usize>),
    /// These are named as exceptions from what is said of everybody before; `from` are those words.
    Excepted { who: Vec<usize>, from: String },
    /// It is said of everybody; of so many, where it says so.
    Everyone(Option<u32>),
    /// It is said of those who are not named.
    Rest,
    /// It is not said of whom.
    Nobody,
}

/// A piece of a reply.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Piece {
    /// Whose it is.
    pub(super) whose: Whose,
    /// Its words, without the names that it is given by.
    pub(super) words: String,
    /// Whose the words are cannot be told for certain.
    pub(super) is_tangled: bool,
}

impl Piece {
    fn new(whose: Whose, words: &str) -> Self {
        Self { whose, words: words.trim().to_owned(), is_tangled: false }
    }
}

/// Divides a reply.
pub(super) fn parted(text: &str, roll: &Roll, words: &RoundWords) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    // Who a line without a name goes on about, and whether their own words are still to come.
    let mut heading: Option<(Vec<usize>, bool)> = None;
    for line in unwrapped(text) {
        let runs = runs(&line);
        if runs.is_empty() {
            // A heading waits for its first words over a blank line; a blank line ends those.
            heading = heading.filter(|(_, is_waiting)| *is_waiting && line.trim().is_empty());
            if !line.trim().is_empty() {
                pieces.push(Piece::new(Whose::Nobody, &line));
            }
            continue;
        }
        let line = Line { text: &line, runs, words };
        let marks = line.marks(roll);
        if let (true, Some((who, is_waiting))) = (marks.is_empty(), &mut heading) {
            let goes_on = line.text.trim_start().starts_with(char::is_lowercase);
            if *is_waiting || goes_on {
                *is_waiting = false;
                pieces.push(Piece::new(Whose::Named(who.clone()), line.text));
                continue;
            }
        }
        let from = pieces.len();
        line.part(&marks, &mut pieces);
        heading = match &pieces[from..] {
            [.., Piece { whose: Whose::Named(who) | Whose::Excepted { who, .. }, words, .. }] => {
                Some((who.clone(), !words.contains(char::is_alphanumeric)))
            }
            _ => None,
        };
    }
    pieces
}

/// The lines, those joined that a mail program wrapped.
fn unwrapped(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut last_chars = 0;
    for line in text.lines() {
        let goes_on = line.starts_with(|c: char| c.is_lowercase() || c.is_ascii_digit());
        match out.last_mut() {
            Some(last) if last_chars >= WRAPPED_LINE_CHARS_MIN && goes_on => {
                last.push(' ');
                last.push_str(line);
            }
            _ => out.push(line.to_owned()),
        }
        last_chars = line.chars().count();
    }
    out
}

/// Who a mark names.
#[derive(Clone, Debug)]
enum Of {
    Members(Vec<usize>),
    Rest,
}

/// A place in a line where clients are named.
#[derive(Clone, Debug)]
struct Mark {
    of: Of,
    /// Its first run, and the one after its last.
    from: usize,
    to: usize,
    /// The first run of its statement, with the joint before the names.
    cut_from: usize,
    /// The run after the mark before it.
    after_last: usize,
    stands: Stands,
}

/// How a mark stands among the words around it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stands {
    /// It opens a statement, which the words after it are.
    Opening,
    /// It is excepted from what is said of everybody before it.
    Excepted,
    /// It is excepted, and it is not said from what.
    InDoubt,
    /// It stands within a statement.
    Within,
}

struct Line<'a> {
    text: &'a str,
    runs: Vec<Run>,
    words: &'a RoundWords,
}

impl Line<'_> {
    fn texts(&self, from: usize, to: usize) -> Vec<&str> {
        self.runs[from..to].iter().map(|run| run.text.as_str()).collect()
    }

    fn gap(&self, before: usize) -> &str {
        let from = before.checked_sub(1).map_or(0, |last| self.runs[last].to);
        let to = self.runs.get(before).map_or(self.text.len(), |run| run.from);
        &self.text[from..to]
    }

    /// All places where clients are named, in order.
    fn marks(&self, roll: &Roll) -> Vec<Mark> {
        let mut marks: Vec<Mark> = Vec::new();
        let mut at = 0;
        while at < self.runs.len() {
            let here = self.group(at, roll).map(|(who, to)| (Of::Members(who), to)).or_else(|| {
                let met = self.words.rest.begin(&self.texts(at, self.runs.len()))?;
                Some((Of::Rest, at + met.words))
            });
            let mark = here.map(|(of, to)| self.mark(of, (at, to), marks.last()));
            match mark {
                // In the middle of a statement 'the rest' is a word like others.
                Some(Mark { of: Of::Rest, stands: Stands::Within, .. }) | None => at += 1,
                Some(mark) => {
                    at = mark.to;
                    marks.push(mark);
                }
            }
        }
        marks
    }

    /// The clients whose names stand at a run, one after the other, and the run after them.
    fn group(&self, at: usize, roll: &Roll) -> Option<(Vec<usize>, usize)> {
        let (first, mut to) = self.name(at, roll)?;
        let mut who = vec![first];
        loop {
            let parts_names = |gap: &str| !gap.contains(['.', ':', ';', '!', '?', '=']);
            if to >= self.runs.len() || !parts_names(self.gap(to)) {
                return Some((who, to));
            }
            let joint = self.words.joints.begin(&self.texts(to, self.runs.len()));
            let next = joint.map_or(to, |met| to + met.words);
            match self.name(next, roll) {
                Some((another, after)) if parts_names(self.gap(next)) => {
                    if !who.contains(&another) {
                        who.push(another);
                    }
                    to = after;
                }
                _ => return Some((who, to)),
            }
        }
    }

    fn name(&self, at: usize, roll: &Roll) -> Option<(usize, usize)> {
        if at >= self.runs.len() {
            return None;
        }
        let is_set_off = |length: usize| {
            let gap = self.gap(at + length).trim_start();
            gap.starts_with([':', '=', '-', '\u{2013}', '\u{2014}'])
        };
        let (who, length) = roll.met(&self.texts(at, self.runs.len()), is_set_off)?;
        // What parts a name may be written with; a full stop ends a sentence instead.
        let is_whole = (at + 1..at + length).all(|run| {
            self.gap(run)
                .chars()
                .all(|c| matches!(c, ' ' | '-' | '_' | '.' | '\u{2010}' | '\u{2011}'))
        });
        is_whole.then_some((who, at + length))
    }

    /// How a mark stands in its line, after the one before it.
    fn mark(&self, of: Of, (from, to): (usize, usize), last: Option<&Mark>) -> Mark {
        let after_last = last.map_or(0, |last| last.to);
        let boundary = (after_last + 1..=from).rev().find(|run| ends_statement(self.gap(*run)));
        let begin = boundary.unwrap_or(after_last);
        let mut cut_from = from;
        while let Some(met) = self.words.leads.end(&self.texts(begin, cut_from)) {
            cut_from -= met.words;
        }
        let before = self.texts(after_last, cut_from);
        let joint = self.words.joints.end(&before);
        let mut stands = Stands::Within;
        if let Some(met) = self.words.except.end(&before) {
            let earlier = &before[..before.len() - met.words];
            let is_of_all = last.is_some_and(|last| matches!(last.of, Of::Rest))
                || self.words.everyone.within(earlier).is_some();
            if is_of_all || joint.is_none() {
                cut_from -= met.words;
                stands = if is_of_all { Stands::Excepted } else { Stands::InDoubt };
            }
        }
        if let (Stands::Within, Some(met)) = (stands, joint) {
            cut_from -= met.words;
            stands = Stands::Opening;
        } else if stands == Stands::Within
            && cut_from == begin
            && (boundary.is_some() || last.is_none())
        {
            stands = Stands::Opening;
        }
        Mark { of, from, to, cut_from, after_last, stands }
    }

    /// Where words begin after a name, in bytes: behind a colon and the like, and a possessive.
    fn words_from(&self, mark: &Mark) -> usize {
        let last = &self.runs[mark.to - 1];
        let is_possessive = self.runs.get(mark.to).is_some_and(|run| run.text == "s")
            && matches!(self.gap(mark.to), "'" | "\u{2019}");
        let end = if is_possessive { self.runs[mark.to].to } else { last.to };
        let rest = self.text[end..].trim_start_matches(|c: char| {
            c.is_whitespace() || matches!(c, ':' | '=' | ',' | ')' | '-' | '\u{2013}' | '\u{2014}')
        });
        self.text.len() - rest.len()
    }

    /// Where a mark's statement begins, in bytes: behind the last word before it.
    fn cut(&self, mark: &Mark) -> usize {
        mark.cut_from.checked_sub(1).map_or(0, |last| self.runs[last].to)
    }

    /// Divides the line by its marks.
    fn part(&self, marks: &[Mark], pieces: &mut Vec<Piece>) {
        let Some(first) = marks.first() else { return self.unnamed(self.text, pieces) };
        if let [Mark { of: Of::Members(who), stands, .. }] = marks {
            let is_label =
                *stands == Stands::Opening && first.to == self.runs.len() && first.from > 0;
            if *stands == Stands::Within || is_label {
                let before = &self.text[..self.runs[first.from].from];
                let words = format!("{before} {}", &self.text[self.words_from(first)..]);
                return pieces.push(Piece::new(Whose::Named(who.clone()), &words));
            }
        }
        let is_clear = |mark: &Mark| matches!(mark.stands, Stands::Opening | Stands::Excepted);
        if !marks.iter().all(is_clear) {
            return self.tangled(marks, pieces);
        }
        self.unnamed(&self.text[..self.cut(first)], pieces);
        for (at, mark) in marks.iter().enumerate() {
            let from = self.words_from(mark);
            let end = marks.get(at + 1).map_or(self.text.len(), |next| self.cut(next)).max(from);
            let whose = match &mark.of {
                Of::Rest => Whose::Rest,
                Of::Members(who) if mark.stands == Stands::Excepted => {
                    let begin = mark.after_last.checked_sub(1).map_or(0, |last| self.runs[last].to);
                    // With the word that makes the exception: 'all clear except'.
                    let from = self.text[begin..self.runs[mark.from].from].trim();
                    Whose::Excepted { who: who.clone(), from: from.to_owned() }
                }
                Of::Members(who) => Whose::Named(who.clone()),
            };
            pieces.push(Piece::new(whose, &self.text[from..end]));
        }
    }

    /// Which words are whose cannot be told: all are said of everyone who is named.
    fn tangled(&self, marks: &[Mark], pieces: &mut Vec<Piece>) {
        let mut words = String::new();
        let mut end = 0;
        let mut named = Vec::new();
        for mark in marks {
            words.push_str(&self.text[end..self.runs[mark.from].from]);
            words.push(' ');
            end = self.words_from(mark);
            if let Of::Members(who) = &mark.of {
                named.extend(who);
            }
        }
        words.push_str(&self.text[end..]);
        named.sort_unstable();
        named.dedup();
        let whose = if named.is_empty() { Whose::Nobody } else { Whose::Named(named) };
        pieces.push(Piece { is_tangled: true, ..Piece::new(whose, &words) });
    }

    /// Words without a name: sentence by sentence, everybody's or nobody's.
    fn unnamed(&self, text: &str, pieces: &mut Vec<Piece>) {
        for sentence in sentences(text) {
            let runs = runs(sentence);
            let texts: Vec<&str> = runs.iter().map(|run| run.text.as_str()).collect();
            let whose = match self.words.everyone.within(&texts) {
                Some(met) => Whose::Everyone(met.count),
                None => Whose::Nobody,
            };
            if !sentence.trim().is_empty() {
                pieces.push(Piece::new(whose, sentence));
            }
        }
    }
}

/// Whether a statement ends between two runs.
fn ends_statement(gap: &str) -> bool {
    gap.contains(['.', '!', '?', ';', ',', '\u{2022}', '*', ')', '('])
        || gap.contains(" - ")
        || gap.contains('\u{2013}')
        || gap.contains('\u{2014}')
}

/// The sentences of a text, each with its end.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        let ends = |(at, c): &(usize, char)| {
            matches!(c, '.' | '!' | '?' | ';')
                && rest[*at + c.len_utf8()..].chars().next().is_none_or(char::is_whitespace)
        };
        let end = rest.char_indices().find(ends).map_or(rest.len(), |(at, c)| at + c.len_utf8());
        let (sentence, after) = rest.split_at(end);
        rest = after;
        Some(sentence)
    })
}
