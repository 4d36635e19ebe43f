//! The numbers that a reply states: minutes until gone, the clock time of the look, the step.
//!
//! Never here: which reading they go with.
//! Promises: how long somebody sat is no fade time; a planned time is not the look's.

use chrono::NaiveTime;

use super::Answering;
use super::clause::{Item, Segment, Stance, Value};
use super::concept::Concept as C;
use super::lexicon::{HalfOfDay, Lexicon};
use super::spelling::Word;
use super::token::TokenKind;
use crate::care::{Minutes, Reading, StepChoice};

/// `am` and `pm` have so many letters.
const HALF_OF_DAY_LETTERS: usize = 2;

/// A sitting and its length stand this near.
const SITTING_NEAR_ITEMS: usize = 3;

/// Minutes until the mark was gone, or for which it has lasted: of the segments that led to the
/// reading first, else of the nearest others.
pub(crate) fn minutes(segments: &[Segment], led: &[usize], reading: Reading) -> Option<Minutes> {
    let own = led
        .iter()
        .rev()
        .find_map(|s| lasting_minutes(segments, *s).or_else(|| bare_minutes(segments, *s)));
    let near = || {
        led.iter().rev().find_map(|s| {
            let around = [s + 1, s.wrapping_sub(1), s + 2, s.wrapping_sub(2)];
            let spoken = [C::Lasted, C::Within, C::OffSeat];
            around
                .into_iter()
                .filter(|n| {
                    segments.get(*n).is_some_and(|near| {
                        near.sentence == segments[*s].sentence && reading != Reading::Marked
                            || near.says_any(&spoken)
                            || reading != Reading::Marked && is_bare_duration(near)
                    })
                })
                .find_map(|n| lasting_minutes(segments, n))
        })
    };
    own.or_else(near).map(Minutes::new)
}

/// '… . 1 hr.'
fn is_bare_duration(segment: &Segment) -> bool {
    matches!(segment.items.as_slice(), [item] if matches!(item.value, Value::Minutes(_)))
}

fn lasting_minutes(segments: &[Segment], s: usize) -> Option<u32> {
    let segment = &segments[s];
    let will =
        segment.items.iter().position(|item| item.is_any(&[C::Will, C::NotLooked, C::PlanLook]));
    (0..segment.items.len()).rev().find_map(|i| {
        let Value::Minutes(minutes) = segment.items[i].value else { return None };
        let later = will.is_some_and(|w| w < i) && !segment.says_any(&[C::Gone, C::Lasted]);
        // 'Another ten minutes' are still to come.
        let of_mark = !segment.items[i].is_any(&[C::Neutral, C::NotNow]);
        (!later && !is_of_sitting(segment, i) && of_mark).then_some(minutes)
    })
}

/// 'Cleared by twenty-five', 'gone in ten': the unit is left out.
fn bare_minutes(segments: &[Segment], s: usize) -> Option<u32> {
    if !segments[s].says_any(&[C::Gone, C::Lasts, C::Lasted]) {
        return None;
    }
    let items = &segments[s].items;
    (1..items.len()).find_map(|i| match items[i].value {
        // 'About 80 % gone' is no time.
        _ if items.get(i + 1).is_some_and(|next| next.is(C::OtherUnit)) => None,
        Value::Number(n) if items[i - 1].is(C::Within) && (2..=180).contains(&n) => Some(n),
        _ => None,
    })
}

/// 'After 45 min sit', 'his 30 minutes in the chair'; but '20 minutes after getting out' is not.
fn is_of_sitting(segment: &Segment, i: usize) -> bool {
    let items = &segment.items;
    let near = |item: &Item| item.is_any(&[C::Sit, C::InSeat, C::Begin]);
    let after = &items[i + 1..items.len().min(i + 1 + SITTING_NEAR_ITEMS)];
    let before = &items[i.saturating_sub(2)..i];
    let off = after.iter().take(2).any(|item| item.is(C::OffSeat));
    // 'At the 30 min check' is when it was looked at.
    let look = after.first().is_some_and(|item| item.is(C::Look));
    let owned = before.iter().any(|item| item.is(C::Definite)) && !segment.says(C::Gone) && !look;
    !off && (after.iter().any(near) || before.iter().any(near) || owned)
}

/// The clock time of the look or of the start.
pub(crate) fn stated_at(
    lexicon: &Lexicon,
    words: &[Word],
    segments: &[Segment],
    led: &[usize],
    answering: Answering,
) -> Option<NaiveTime> {
    let own = led.iter().rev().copied();
    // 'He has been up since nine' tells no time of the look.
    let of_sitting = |s: &usize| {
        answering != Answering::Start
            && segments[*s].says_any(&[C::Begin, C::InSeat, C::Sit])
            // 'Inspected 0850 following 60 min sit'.
            && !segments[*s].says_any(&[C::Look, C::See])
    };
    let looks = (0..segments.len())
        .filter(|s| segments[*s].says_any(&[C::Look, C::Begin, C::See]) && !of_sitting(s));
    let all = (0..segments.len()).filter(|s| !of_sitting(s));
    let order: Vec<usize> = own.chain(looks).chain(all).collect();
    let said = order.into_iter().find_map(|s| {
        let earlier = || (0..s).rev().find_map(|e| last_whole(&segments[e]));
        clock_of(&segments[s])?.after(last_whole(&segments[s]).or_else(earlier))
    })?;
    let speaks = |halves: &[HalfOfDay]| {
        halves.iter().any(|half| {
            words.windows(half.words.len().max(1)).enumerate().any(|(at, said)| {
                // 'I am' is no morning: so short a word counts only after a number.
                let after_number = || {
                    at.checked_sub(1).is_some_and(|before| {
                        let word = &words[before];
                        word.kind == TokenKind::Number || word.entry.number.is_some()
                    })
                };
                said.iter().zip(&half.words).all(|(word, id)| word.entry.id == *id)
                    && (half.length > HALF_OF_DAY_LETTERS || after_number())
            })
        })
    };
    said.resolved(speaks(&lexicon.afternoon), speaks(&lexicon.forenoon))
}

/// The last clock time of a segment that names its hour.
fn last_whole(segment: &Segment) -> Option<super::clock::Said> {
    segment.items.iter().rev().find_map(|item| match item.value {
        Value::Clock(said) if said.is_whole() => Some(said),
        _ => None,
    })
}

/// The first clock time of a segment that is neither planned nor the time of something else.
fn clock_of(segment: &Segment) -> Option<super::clock::Said> {
    for (i, item) in segment.items.iter().enumerate() {
        let Value::Clock(said) = item.value else { continue };
        let before = &segment.items[i.saturating_sub(3)..i];
        let other = before.iter().any(|item| item.is(C::NotAtTime));
        let planned = segment.items[..i].iter().any(|item| item.is_any(&[C::Will, C::If]));
        if !other && !planned && item.stance != Stance::Supposed {
            return Some(said);
        }
    }
    None
}

/// The step that a clinician names: by number, else by its minutes.
pub(crate) fn step(segments: &[Segment], resumes: &[usize]) -> Option<StepChoice> {
    let first = *resumes.first()?;
    let after = (first..segments.len()).chain((0..first).rev());
    let order: Vec<usize> = after.collect();
    // '2nd step'.
    let ordinal = |s: &usize| {
        segments[*s].items.windows(3).find_map(|three| match three[0].value {
            Value::Number(n) if n > 0 && three[1].is(C::OtherUnit) && three[2].is(C::StepWord) => {
                Some(StepChoice::Step(n))
            }
            _ => None,
        })
    };
    let numbered = order.iter().find_map(|s| {
        ordinal(s).or_else(|| {
            segments[*s].items.windows(2).find_map(|pair| match (pair[0].value, pair[1].value) {
                (_, Value::Number(n)) if pair[0].is(C::StepWord) && n > 0 => {
                    Some(StepChoice::Step(n))
                }
                (Value::Number(n), _) if pair[1].is(C::StepWord) && n > 0 => {
                    Some(StepChoice::Step(n))
                }
                _ => None,
            })
        })
    });
    let timed = || order.iter().find_map(|s| sitting_minutes(&segments[*s]));
    numbered.or_else(timed)
}

fn sitting_minutes(segment: &Segment) -> Option<StepChoice> {
    // 'Half an hour to begin with' is of what is to come.
    let past = segment.items.iter().any(|item| item.is(C::Past) && !item.is(C::Neutral));
    if past || segment.says_any(&[C::Gone, C::OffSeat, C::Stop, C::Lasts, C::Lasted]) {
        return None;
    }
    segment.items.iter().find_map(|item| match item.value {
        Value::Minutes(minutes) => Some(StepChoice::Minutes(Minutes::new(minutes))),
        _ => None,
    })
}
