//! Words of a second language within a reply: what they say worse than the rest.
//!
//! Never here: which language is asked first.
//! Promises: only a worse reading is taken from them; a denial in one language reaches no word of
//! another.

use super::Answering;
use super::lexicon::Lexicon;
use super::lexicons::Lexicons;
use super::reading::{Read, is_worse, read_in};
use super::spelling::share_known;
use super::token::{Token, TokenKind};
use crate::care::Reading;

/// A stretch of a sentence is another language's where the best one knows less of it, in percent.
const OWN_HALF_PERCENT: usize = 60;

/// A language that knows every word, in percent.
const ALL_PERCENT: usize = 100;

/// Most sentences that are tried in other languages.
const FOREIGN_SENTENCES_MAX: usize = 100;

/// Beside a calm answer, a sentence that another language knows better and reads as worse: 'All
/// other areas clear. Está sangrando.'
pub(super) fn worse_sentence(
    lexicons: &Lexicons,
    best: &Lexicon,
    answering: Answering,
    tokens: &[Token],
) -> Option<Read> {
    let ends = |token: &Token| matches!(token.kind, TokenKind::Stop | TokenKind::Question);
    let sentences = tokens.split(ends).filter(|sentence| !sentence.is_empty());
    let worse = |lexicon: &Lexicon, words: &[Token]| {
        let read = read_in(lexicon, answering, words);
        is_worse(read.verdict.reading, Reading::Clear).then_some(read)
    };
    let knows = |lexicon: &Lexicon, token: &Token| {
        token.kind == TokenKind::Word && share_known(lexicon, std::slice::from_ref(token)) > 0
    };
    // 'No marks and está sangrando': no denial of the one reaches over a word of the other.
    let intrudes = |token: &Token| {
        token.kind == TokenKind::Word
            && !knows(best, token)
            && lexicons.in_order(best.code()).skip(1).any(|lexicon| knows(lexicon, token))
    };
    sentences.take(FOREIGN_SENTENCES_MAX).find_map(|sentence| {
        let mut own =
            sentence.split(intrudes).filter(|run| run.len() > 1 && run.len() < sentence.len());
        if let Some(read) = own.find_map(|run| worse(best, run)) {
            return Some(read);
        }
        let known = share_known(best, sentence);
        lexicons.in_order(best.code()).skip(1).find_map(|lexicon| {
            if share_known(lexicon, sentence) > known {
                return worse(lexicon, sentence);
            }
            foreign_run(lexicon, best, sentence).and_then(|run| worse(lexicon, run))
        })
    })
}

/// The longest stretch of a sentence whose words another language has, if the best one has not
/// half of them: 'checked at two and está sangrando un poco'.
fn foreign_run<'a>(other: &Lexicon, best: &Lexicon, sentence: &'a [Token]) -> Option<&'a [Token]> {
    if share_known(best, sentence) == ALL_PERCENT {
        return None;
    }
    let strange = |token: &Token| {
        token.kind == TokenKind::Word && share_known(other, std::slice::from_ref(token)) == 0
    };
    let is_other = |run: &&[Token]| {
        let words = run.iter().filter(|token| token.kind == TokenKind::Word).count();
        words > 1 && share_known(best, run) < OWN_HALF_PERCENT
    };
    sentence.split(strange).filter(is_other).max_by_key(|run| run.len())
}
