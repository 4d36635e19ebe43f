//! Which items are signs on the skin, and which only sound like one: broken chairs, hot days,
//! dark skin, usual aches.
//!
//! Never here: what follows from a sign.
//! Promises: a word is set aside only beside the thing, person or habit that it describes.

use super::clause::{Item, Segment, Stance};
use super::concept::Concept as C;

/// How grave a sign is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Sign {
    /// Something, not named.
    Vague,
    /// Redness or another colour change, warmth.
    Mark,
    /// Fever, feeling ill.
    Fever,
    /// A whole-body sign that needs review at once.
    Ill,
    /// Needs review at once.
    Alarm,
}

/// The sign that an item is, with how it is meant.
pub(crate) fn sign_at(segment: &Segment, i: usize) -> Option<(Sign, Stance)> {
    let item = &segment.items[i];
    if item.is(C::Neutral) {
        return None;
    }
    let alarms = item.is_any(&[C::Alarm, C::NonBlanching])
        || item.is(C::AlarmOfSkin) && !is_of_thing(segment, i, true)
        || item.is(C::Pain) && !is_usual(segment);
    let sign = if alarms {
        Sign::Alarm
    } else if item.is(C::Ill) && !is_of_helper(segment, i) && !is_usual(segment) {
        Sign::Ill
    } else if item.is(C::Fever) && !is_normal_temperature(item) && !is_of_helper(segment, i) {
        Sign::Fever
    } else if item.is(C::Mark)
        || item.is_any(&[C::Colour, C::Warm])
            && !is_of_thing(segment, i, false)
            && !is_said_of_thing(segment, i)
    {
        Sign::Mark
    } else if item.is(C::Vague) {
        Sign::Vague
    } else {
        return None;
    };
    // 'It will not go pale' is no plan.
    let is_so = item.is(C::NonBlanching) && item.stance == Stance::Supposed && !segment.says(C::If);
    Some((sign, if is_so { Stance::Plain } else { item.stance }))
}

/// 'Her usual ache, nothing new'.
fn is_usual(segment: &Segment) -> bool {
    segment.says(C::Usual)
}

/// Whether an item describes a thing: 'broken footplate', 'the chair is hot'.
fn is_of_thing(segment: &Segment, i: usize, also_before: bool) -> bool {
    let of_body = |item: &Item| item.place.is_some() || item.is_any(&[C::Skin, C::Mark, C::It]);
    for item in segment.items[i + 1..].iter().take(2) {
        if item.is_any(&[C::Thing, C::NoSitting]) {
            return true;
        }
        if of_body(item) || item.is(C::Preposition) {
            break;
        }
    }
    let followed_by_body = segment.items[i + 1..].iter().take(2).any(of_body);
    if !also_before || followed_by_body {
        return false;
    }
    let mut verb = false;
    for (k, item) in segment.items[..i].iter().enumerate().rev() {
        // In some languages one word is both 'is' and 'it is': after a thing it is the verb.
        let verb_of_thing = item.is(C::Present) && k > 0 && segment.items[k - 1].is(C::Thing);
        if of_body(item) || item.is_any(&[C::Subject, C::Person, C::Colour]) && !verb_of_thing {
            return false;
        }
        if item.is(C::Thing) {
            return verb || !is_led_to(segment, item);
        }
        verb |= item.is_any(&[C::Present, C::Past]) || item.text == "'s";
    }
    false
}

/// 'The cushion is red'; but not 'under the cushion is red'.
fn is_said_of_thing(segment: &Segment, i: usize) -> bool {
    let [before @ .., thing, verb] = &segment.items[..i] else { return false };
    let led =
        before.iter().rev().take(2).any(|item| {
            item.is_any(&[C::Preposition, C::Because, C::OffSeat]) || item.place.is_some()
        });
    thing.is(C::Thing) && verb.is(C::Present) && !verb.is(C::Subject) && !led
}

/// Whether a preposition leads to the thing: 'out of the chair'.
fn is_led_to(segment: &Segment, thing: &Item) -> bool {
    let at = segment.items.iter().position(|item| std::ptr::eq(item, thing)).unwrap_or(0);
    let before = segment.items[..at].iter().rev().take(2);
    before.into_iter().any(|item| item.is_any(&[C::Preposition, C::Because, C::OffSeat]))
}

/// 'The carer has a fever': the nearest person before it is a helper.
fn is_of_helper(segment: &Segment, i: usize) -> bool {
    let nearest = segment.items[..i].iter().rev().find(|item| {
        item.is_any(&[C::Helper, C::Person]) || item.is(C::Subject) && !item.is(C::Present)
    });
    nearest.is_some_and(|item| item.is(C::Helper))
}

/// 'Temp 36.8' is no fever: below 37.5 °C or, where the number can only be Fahrenheit, 99.5 °F.
fn is_normal_temperature(item: &Item) -> bool {
    let mut numbers =
        item.raw.split_whitespace().filter_map(|w| w.replace(',', ".").parse::<f32>().ok());
    numbers.next_back().is_some_and(|n| (30.0..37.5).contains(&n) || (90.0..99.5).contains(&n))
}
