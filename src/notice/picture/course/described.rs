//! The chart in words, for those who do not see it.
//!
//! Never here: drawing.
//! Promises: says what the chart says: how many sittings of each kind, what was seen, every sign
//! with its time.

use std::collections::BTreeMap;

use super::chart::expected_minutes;
use super::history::{Column, History, What};
use super::key::Key;
use crate::follow_up::Calendar;
use crate::notice::wording::Wording;

/// The signs named one by one, newest last.
const SIGNS_MAX: usize = 6;

/// The chart in a few sentences.
pub(super) fn described(
    (history, shown): (&History, &[Column]),
    w: &Wording,
    zone: &Calendar,
) -> String {
    let mut tally: BTreeMap<Key, u32> = BTreeMap::new();
    let mut signs = Vec::new();
    let mut sittings = Vec::new();
    for column in shown {
        let (fade, missed) = match &column.what {
            What::Sitting(sat) => {
                sittings.push((column.at, sat));
                *tally.entry(Key::Sitting(sat.came_to)).or_default() += 1;
                (sat.fade, sat.missed > 0)
            }
            What::Routine { fade, missed } => (*fade, *missed),
            What::Sign(sign) => {
                signs.push(w.picture_sign(&sign.words(w), &w.row_time(zone, column.at)));
                continue;
            }
        };
        if let Some(fade) = fade {
            *tally.entry(Key::from(fade)).or_default() += 1;
        }
        if missed {
            *tally.entry(Key::Missed).or_default() += 1;
        }
    }
    let (Some((from, first)), Some((to, last))) = (sittings.first(), sittings.last()) else {
        return w.picture_course_empty();
    };
    let count = u32::try_from(sittings.len()).unwrap_or(u32::MAX);
    let mut text = w.picture_course(
        &w.counted("count.sittings", count),
        &w.row_time(zone, *from),
        &w.row_time(zone, *to),
        &w.duration(first.planned),
        &w.duration(last.planned),
    );
    if let Some(cut) = history.cut(shown, w) {
        text = format!("{text} {cut}.");
    }
    let tally = tally.into_iter().map(|(key, count)| w.picture_tally(&key.words(w), &count));
    let limit = w.duration(history.limit);
    text = format!("{text} {}", w.picture_tallies(&w.list(tally), &limit));
    let newest = signs.split_off(signs.len().saturating_sub(SIGNS_MAX));
    if !newest.is_empty() {
        text = format!("{text} {}.", w.list(newest));
    }
    if let Some(expected) = history.expected {
        let minutes = w.duration_minutes(&expected_minutes(expected.tenths, w));
        text = format!("{text} {}", w.picture_expect(&w.duration(expected.sit), &minutes));
    }
    text
}
