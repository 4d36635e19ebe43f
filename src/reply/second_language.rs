//! Words of a second language within a reply: what they say worse than the rest.
//!
//! Never here: which language is asked first.
//! Promises: only a worse reading is taken from them; a denial in one language reaches no word of
//! another.

use std::ops::Range;

use super::Answering;
use super::heard::Heard;
use super::languages::Languages;
use super::reading::{ALL_PERCENT, Read, is_worse, read_in};
use super::token::{Token, TokenKind};
use crate::care::Reading;

/// A stretch of a sentence is another language's where the best one knows less of it, in percent.
const OWN_HALF_PERCENT: usize = 60;

/// Most sentences that are tried in other languages.
const FOREIGN_SENTENCES_MAX: usize = 100;

/// Beside a calm answer, a sentence that another language knows better and reads as worse: 'All
/// other areas clear. Está sangrando.'
pub(super) fn worse_sentence(
    languages: &Languages,
    best: Heard,
    answering: Answering,
) -> Option<Read> {
    let ends = |at: usize| matches!(best.tokens[at].kind, TokenKind::Stop | TokenKind::Question);
    let worse = |heard: Heard| {
        let read = read_in(&heard, answering);
        is_worse(read.verdict.reading, Reading::Clear).then_some(read)
    };
    let others = || languages.all_but(best.lexicon);
    // 'No marks and está sangrando': no denial of the one reaches over a word of the other.
    let intrudes = |at: usize| {
        is_word(&best.tokens[at]) && !best.knows(at) && others().any(|other| other.knows(at))
    };
    let sentences = runs(0..best.tokens.len(), ends).filter(|sentence| !sentence.is_empty());
    sentences.take(FOREIGN_SENTENCES_MAX).find_map(|sentence| {
        let own = best.part(sentence.clone());
        let known = own.share_known();
        if known == ALL_PERCENT {
            return None;
        }
        let mut parts = runs(sentence.clone(), intrudes)
            .filter(|run| run.len() > 1 && run.len() < sentence.len());
        if let Some(read) = parts.find_map(|run| worse(best.part(run))) {
            return Some(read);
        }
        others().find_map(|other| {
            let there = other.part(sentence.clone());
            if there.share_known() > known {
                return worse(there);
            }
            foreign_run(there, own).and_then(worse)
        })
    })
}

/// The longest stretch of a sentence whose words another language has, if the best one has not
/// half of them: 'checked at two and está sangrando un poco'.
fn foreign_run<'a>(other: Heard<'a>, best: Heard) -> Option<Heard<'a>> {
    let is_strange = |at: usize| is_word(&other.tokens[at]) && !other.knows(at);
    let is_other = |run: &Range<usize>| {
        let words = other.tokens[run.clone()].iter().filter(|token| is_word(token)).count();
        words > 1 && best.part(run.clone()).share_known() < OWN_HALF_PERCENT
    };
    let all = runs(0..other.tokens.len(), is_strange);
    all.filter(is_other).max_by_key(Range::len).map(|run| other.part(run))
}

fn is_word(token: &Token) -> bool {
    token.kind == TokenKind::Word
}

/// The stretches of places between those that part them.
fn runs(places: Range<usize>, parts: impl Fn(usize) -> bool) -> impl Iterator<Item = Range<usize>> {
    let mut next = Some(places.start);
    std::iter::from_fn(move || {
        let from = next?;
        let end = (from..places.end).find(|at| parts(*at));
        next = end.map(|at| at + 1);
        Some(from..end.unwrap_or(places.end))
    })
}
