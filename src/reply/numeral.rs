//! Numbers, in digits or in words, at a place in a reply.
//!
//! Never here: what is counted.
//! Promises: a number read is below 10 000.

use super::spelling::Word;
use super::token::TokenKind;

/// A number and how many words it takes. Digits with a separator are no whole number.
pub(crate) fn numeral(words: &[Word]) -> Option<(u32, usize)> {
    let first = words.first()?;
    if first.kind == TokenKind::Number {
        let value = first.text.parse::<u32>().ok().filter(|n| *n < 10_000)?;
        return Some((value, 1));
    }
    let tens = spoken(first)?;
    if tens >= 20 && tens % 10 == 0 {
        let joint = words.get(1).is_some_and(|w| w.entry.joins_numbers);
        let next = 1 + usize::from(joint);
        if let Some(ones) = words.get(next).and_then(spoken).filter(|n| (1..10).contains(n)) {
            return Some((tens + ones, next + 1));
        }
    }
    Some((tens, 1))
}

fn spoken(word: &Word) -> Option<u32> {
    word.entry.number.filter(|_| word.kind == TokenKind::Word)
}
