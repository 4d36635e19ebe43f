//! Where the hours of all contacts together leave the week open although skin is looked at then.
//!
//! Never here: clock changes: an ordinary week is held against the hours.
//! Promises: a gap is told once, for all days on which it is the same.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveTime, Timelike, Weekday, WeekdaySet};

use super::AskedHours;
use crate::care::Ladder;

const DAY: usize = 24 * 60;
const WEEK: usize = 7 * DAY;

/// A stretch of the week in which nobody's hours hold and somebody is to be asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The days on which it begins.
    pub days: WeekdaySet,
    /// The first time of day in it.
    pub from: NaiveTime,
    /// How many minutes it lasts.
    pub lasts: usize,
    /// The first time of day in it at which somebody is to be asked.
    pub asked_at: NaiveTime,
}

/// The times at which contacts are asked first, in minutes from a local midnight; above 1440 where
/// a sitting runs into the next day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Moments(BTreeSet<usize>);

impl Moments {
    /// Of a client with these sitting times on a ladder: begins of sittings, looks in and after
    /// them, routine looks; on all steps and in the routine phase.
    pub fn of(ladder: &Ladder, sittings_at: &[NaiveTime]) -> Self {
        let mut moments = BTreeSet::new();
        for step in &ladder.steps {
            for begin in sittings_at.iter().take(step.sittings_per_day as usize) {
                moments.insert(minute(*begin));
                let looks = step.look_offsets().into_iter();
                moments.extend(looks.map(|offset| minute(*begin) + offset.count() as usize));
            }
        }
        let routine = ladder.routine.iter().flat_map(|routine| &routine.look_at);
        moments.extend(ladder.look_at.iter().chain(routine).map(|time| minute(*time)));
        Self(moments)
    }
}

/// The gaps that the hours of some contacts leave, Monday's first. A contact without hours is asked
/// at any hour, so that there is none.
pub fn gaps<'h>(contacts: impl IntoIterator<Item = &'h AskedHours>, moments: &Moments) -> Vec<Gap> {
    let mut covered = vec![false; WEEK];
    for hours in contacts {
        if hours.is_any() {
            return Vec::new();
        }
        for minute in minutes_of(hours) {
            covered[minute] = true;
        }
    }
    let mut found: BTreeMap<(usize, usize), (WeekdaySet, usize)> = BTreeMap::new();
    for day in 0..7 {
        for moment in &moments.0 {
            let moment = (day * DAY + moment) % WEEK;
            if let Some((from, lasts)) = around(&covered, moment) {
                let gap = found.entry((from % DAY, lasts)).or_insert((WeekdaySet::EMPTY, moment));
                gap.0.insert(weekday(from / DAY));
            }
        }
    }
    let mut gaps: Vec<Gap> = found
        .into_iter()
        .map(|((from, lasts), (days, asked_at))| Gap {
            days,
            from: time(from),
            lasts,
            asked_at: time(asked_at % DAY),
        })
        .collect();
    gaps.sort_by_key(|gap| gap.days.first().map(|day| day.num_days_from_monday()));
    gaps
}

/// The minutes of an ordinary week, counted from Monday's midnight, that some hours hold.
fn minutes_of(hours: &AskedHours) -> impl Iterator<Item = usize> {
    hours.stretches().iter().flat_map(|stretch| {
        let (from, to) = (minute(stretch.from()), minute(stretch.to()));
        let lasts = if to > from { to - from } else { to + DAY - from };
        stretch.days().iter(Weekday::Mon).flat_map(move |day| {
            let begin = day.num_days_from_monday() as usize * DAY + from;
            (begin..begin + lasts).map(|minute| minute % WEEK)
        })
    })
}

/// The stretch of minutes around one that nobody covers: its first minute and how long it lasts.
fn around(covered: &[bool], moment: usize) -> Option<(usize, usize)> {
    if covered[moment] {
        return None;
    }
    let before = (1..WEEK).take_while(|back| !covered[(moment + WEEK - back) % WEEK]).count();
    let after = (1..WEEK).take_while(|on| !covered[(moment + on) % WEEK]).count();
    Some(((moment + WEEK - before) % WEEK, (before + 1 + after).min(WEEK)))
}

fn minute(time: NaiveTime) -> usize {
    (time.hour() * 60 + time.minute()) as usize
}

fn time(minute: usize) -> NaiveTime {
    let seconds = u32::try_from(minute % DAY * 60).unwrap_or(0);
    NaiveTime::from_num_seconds_from_midnight_opt(seconds, 0)
        .expect("OK because the minute was taken modulo one day")
}

fn weekday(from_monday: usize) -> Weekday {
    Weekday::try_from(u8::try_from(from_monday % 7).unwrap_or(0))
        .expect("OK because it was taken modulo one week")
}

#[cfg(test)]
mod tests {
    use super::super::written_days;
    use super::*;

    fn hours(stretches: &[&str]) -> AskedHours {
        AskedHours::new(stretches.iter().map(|text| text.parse().unwrap()).collect())
    }

    fn told(contacts: &[AskedHours], moments: &[usize]) -> Vec<String> {
        let moments = Moments(moments.iter().copied().collect());
        let told = gaps(contacts, &moments).into_iter().map(|gap| {
            let (from, at) = (gap.from.format("%H:%M"), gap.asked_at.format("%H:%M"));
            format!("{} {from} {}min, {at}", written_days(gap.days), gap.lasts)
        });
        told.collect()
    }

    #[test]
    fn a_gap_is_told_where_somebody_is_asked_in_it_and_nowhere_else() {
        let day = hours(&["Mon-Fri 07:00-15:00"]);
        let evening = hours(&["17:00-23:00"]);
        let both = [day, evening];
        assert_eq!(told(&both, &[8 * 60]), ["Fri-Sat 23:00 1080min, 08:00"]);
        assert_eq!(told(&both[..], &[18 * 60]), Vec::<String>::new());
        let week = [hours(&["07:00-15:00"]), hours(&["17:00-23:00"])];
        assert_eq!(told(&week, &[15 * 60, 16 * 60, 17 * 60]), ["Mon-Sun 15:00 120min, 15:00"]);
    }

    #[test]
    fn a_stretch_over_midnight_covers_the_morning_after_and_somebody_at_any_hour_covers_all() {
        let night = hours(&["Sun 22:00-06:00"]);
        assert_eq!(told(std::slice::from_ref(&night), &[5 * 60]), ["Mon 06:00 9600min, 05:00"]);
        assert_eq!(told(&[night, AskedHours::ANY], &[5 * 60]), Vec::<String>::new());
    }
}
