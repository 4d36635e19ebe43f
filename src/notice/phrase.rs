//! Small phrases within a sentence: times on the client's clock, durations, counts, places, lists.
//!
//! Never here: whole sentences, the present time.
//! Promises: a time names its day unless that day is the reader's today.

use std::fmt::Display;

use chrono::{Datelike, Days, NaiveTime, Timelike};

use super::wording::Wording;
use crate::care::{Minutes, Site};
use crate::follow_up::{Calendar, Instant};

/// A clock that the reader lives by, with the day that is today.
#[derive(Clone, Copy, Debug)]
pub(super) struct Clock<'a> {
    pub(super) zone: &'a Calendar,
    pub(super) now: Instant,
}

impl Wording {
    /// `10:48`, `10:00 tomorrow`, `10:00 on Friday 6 March`.
    pub(super) fn when(&self, clock: Clock<'_>, at: Instant) -> String {
        let local = clock.zone.local(at);
        let time = self.clock(local.time());
        let (date, today) = (local.date_naive(), clock.zone.date(clock.now));
        if date == today {
            time
        } else if today.checked_add_days(Days::new(1)) == Some(date) {
            self.time_tomorrow(&time)
        } else if today.checked_sub_days(Days::new(1)) == Some(date) {
            self.time_yesterday(&time)
        } else {
            let weekday = &self.language.weekdays[date.weekday().num_days_from_monday() as usize];
            let month = &self.language.months[date.month0() as usize];
            self.time_other_day(&time, weekday, &date.day(), month)
        }
    }

    /// `10:48`.
    pub(super) fn clock(&self, time: NaiveTime) -> String {
        self.time_clock(&format!("{:02}", time.hour()), &format!("{:02}", time.minute()))
    }

    /// Day and time for a line of a table.
    pub(super) fn row_time(&self, zone: &Calendar, at: Instant) -> String {
        let local = zone.local(at);
        let month = &self.language.months[local.month0() as usize];
        self.time_row(&self.clock(local.time()), &local.day(), month)
    }

    /// `45 min`, `2 h`, `1 h 30 min`, `2 days 3 h`.
    pub(super) fn duration(&self, duration: Minutes) -> String {
        /// From two days on, hours alone are hard to picture.
        const DAYS_FROM_HOURS: u32 = 48;
        let (hours, minutes) = (duration.count() / 60, duration.count() % 60);
        match (hours, minutes) {
            (0, _) => self.duration_minutes(&minutes),
            (DAYS_FROM_HOURS.., _) => {
                let days = self.counted("count.days", hours / 24);
                self.duration_days_hours(&days, &(hours % 24))
            }
            (_, 0) => self.duration_hours(&hours),
            (..) => self.duration_hours_minutes(&hours, &minutes),
        }
    }

    /// `1 sitting`, `2 sittings`. `name` is one of the counted keys of the catalogue.
    pub(super) fn counted(&self, name: &str, count: u32) -> String {
        let form = if self.language.one.contains(&count) { "one" } else { "other" };
        self.filled(&format!("{name}.{form}"), &[("count", &count)])
    }

    /// `a, b and c`.
    pub(super) fn list<T: Display>(&self, items: impl IntoIterator<Item = T>) -> String {
        let items: Vec<String> = items.into_iter().map(|item| item.to_string()).collect();
        match items.as_slice() {
            [] => String::new(),
            [only] => only.clone(),
            [first @ .., last] => {
                let first = first.join(&self.language.list_between);
                format!("{first}{}{last}", self.language.list_last)
            }
        }
    }

    /// `left sit bone and tailbone`.
    pub fn sites<'a>(&self, sites: impl IntoIterator<Item = &'a Site>) -> String {
        self.list(sites.into_iter().map(|site| self.filled(&format!("sites.{site}"), &[])))
    }

    /// ` on the left sit bone`, with its space before it; nothing where no site is named.
    pub(super) fn place<'a>(&self, sites: impl IntoIterator<Item = &'a Site>) -> String {
        let phrases =
            self.list(sites.into_iter().map(|site| self.filled(&format!("where.{site}"), &[])));
        if phrases.is_empty() { phrases } else { format!(" {phrases}") }
    }

    /// A decimal number, from so many units with so many digits after the mark.
    pub(super) fn decimal(&self, units: i64, digits: usize) -> String {
        let scale = 10_i64.pow(u32::try_from(digits).unwrap_or(0));
        let sign = if units < 0 { "−" } else { "" };
        let (whole, rest) = (units.abs() / scale, units.abs() % scale);
        format!("{sign}{whole}{}{rest:0digits$}", self.language.decimal)
    }
}
