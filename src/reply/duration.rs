//! Durations as people write them: `20 mins`, `an hour and ten minutes`, `1h10`, `half an hour`.
//!
//! Never here: what lasted so long.
//! Promises: a duration read is 1 minute to 24 hours.

use super::concept::Concept;
use super::lexicon::Lexicon;
use super::numeral::numeral;
use super::phrase::concepts_alone;
use super::spelling::Word;
use super::token::TokenKind;
use super::vocabulary::WordId;

/// The longest duration that a reply may state.
const MINUTES_MAX: u32 = 24 * 60;

/// A duration in minutes and how many words it takes.
pub(crate) fn duration(lexicon: &Lexicon, words: &[Word]) -> Option<(u32, usize)> {
    let (mut minutes, mut used) = single(lexicon, words)?;
    let is_hours = minutes >= 60 && minutes.is_multiple_of(30);
    if is_hours {
        let joint = words.get(used).is_some_and(|w| concepts_alone(lexicon, w).has(Concept::And));
        let next = used + usize::from(joint);
        if let Some((more, length)) = single(lexicon, words.get(next..)?).filter(|(m, _)| *m < 60) {
            minutes += more;
            used = next + length;
        } else if let Some((more, length)) =
            glued_minutes(words.get(used..)?).or_else(|| bare_minutes(words.get(used..)?))
        {
            minutes += more;
            used += length;
        }
    }
    (1..=MINUTES_MAX).contains(&minutes).then_some((minutes, used))
}

/// `10` in `1h10`.
fn glued_minutes(words: &[Word]) -> Option<(u32, usize)> {
    words.first().filter(|w| w.glued && w.kind == TokenKind::Number)?;
    numeral(words).filter(|(m, _)| *m < 60)
}

/// `15` in `1 hr 15`, where nothing else is counted by it.
fn bare_minutes(words: &[Word]) -> Option<(u32, usize)> {
    let first = words.first().filter(|w| w.kind == TokenKind::Number && w.text.len() == 2)?;
    let counts =
        words.get(1).is_some_and(|w| w.kind != TokenKind::Stop && w.kind != TokenKind::Comma);
    first.text.parse().ok().filter(|m| *m < 60 && !counts).map(|minutes| (minutes, 1))
}

fn single(lexicon: &Lexicon, words: &[Word]) -> Option<(u32, usize)> {
    let (first, after) = words.split_first()?;
    let is_said = |span: &[WordId]| {
        after.len() >= span.len() && span.iter().zip(after).all(|(id, w)| *id == w.entry.id)
    };
    let spoken = first.entry.spans.iter().filter(|(span, _)| is_said(span));
    if let Some((span, minutes)) = spoken.max_by_key(|(span, _)| span.len()) {
        return Some((*minutes, 1 + span.len()));
    }
    let (tenths, length) = tenths(words)?;
    let unit = concepts_alone(lexicon, words.get(length)?);
    let per_unit = if unit.has(Concept::HourUnit) {
        60
    } else if unit.has(Concept::MinuteUnit) {
        1
    } else {
        return None;
    };
    Some((tenths.checked_mul(per_unit)? / 10, length + 1))
}

/// The number in tenths, so that `1.5 hours` is exact.
fn tenths(words: &[Word]) -> Option<(u32, usize)> {
    if let Some((number, length)) = numeral(words) {
        return Some((number.checked_mul(10)?, length));
    }
    let first = words.first().filter(|w| w.kind == TokenKind::Number)?;
    let (whole, part) = first.text.split_once(['.', ','])?;
    let part = part.get(..1)?.parse::<u32>().ok()?;
    Some((whole.parse::<u32>().ok()?.checked_mul(10)?.checked_add(part)?, 1))
}
