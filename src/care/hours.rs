//! The hours of the week in which a contact is asked: caregivers come in shifts.
//!
//! Never here: instants, zones and clock changes (`follow_up::shifts`), the words of problems.
//! Promises: a stretch has a day and a length; what is written is read back as the same.

mod gaps;

use std::fmt;
use std::str::FromStr;

use chrono::{NaiveTime, Weekday, WeekdaySet};
use serde::{Deserialize, Serialize};

pub use gaps::{Gap, Moments, gaps};

/// The short names of the days, as they are written.
const DAYS: [(&str, Weekday); 7] = [
    ("Mon", Weekday::Mon),
    ("Tue", Weekday::Tue),
    ("Wed", Weekday::Wed),
    ("Thu", Weekday::Thu),
    ("Fri", Weekday::Fri),
    ("Sat", Weekday::Sat),
    ("Sun", Weekday::Sun),
];

/// The hours in which a contact is asked; none at all means at any hour.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct AskedHours {
    stretches: Vec<Stretch>,
}

/// One stretch of hours, on each of some days: `Mon-Fri 07:00-15:00`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Stretch {
    days: WeekdaySet,
    from: NaiveTime,
    to: NaiveTime,
}

/// Why a text is not a stretch of hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StretchError {
    /// It has another form.
    #[error("not days and hours written as `Mon-Fri 07:00-15:00`")]
    Form,
    /// A day has another name.
    #[error("days are Mon, Tue, Wed, Thu, Fri, Sat and Sun")]
    Day,
    /// A time of day has another form, or does not exist.
    #[error("times of day have two digits each, `HH:MM`")]
    Time,
    /// It begins when it ends.
    #[error("hours of no length; a whole day is `00:00-24:00`")]
    Empty,
}

impl AskedHours {
    /// At any hour.
    pub const ANY: Self = Self { stretches: Vec::new() };

    /// In these stretches; at any hour where there is none.
    pub fn new(stretches: Vec<Stretch>) -> Self {
        Self { stretches }
    }

    /// Whether the contact is asked at any hour.
    pub fn is_any(&self) -> bool {
        self.stretches.is_empty()
    }

    /// The stretches, as they were written.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }
}

impl Stretch {
    /// The days on which it begins.
    pub fn days(&self) -> WeekdaySet {
        self.days
    }

    /// The first time of day in it.
    pub fn from(&self) -> NaiveTime {
        self.from
    }

    /// The first time of day that is not in it any more; at or before `from`, on the next day.
    pub fn to(&self) -> NaiveTime {
        self.to
    }

    /// Whether it ends on the day after it begins (midnight itself included).
    pub fn crosses_midnight(&self) -> bool {
        self.to <= self.from
    }

    /// Whether it is one whole day, from midnight to midnight.
    pub fn is_whole_day(&self) -> bool {
        self.from == self.to
    }
}

impl FromStr for Stretch {
    type Err = StretchError;

    fn from_str(text: &str) -> Result<Self, StretchError> {
        let mut parts = text.split_whitespace();
        let (days, hours) = match (parts.next(), parts.next(), parts.next()) {
            (Some(hours), None, None) => (None, hours),
            (Some(days), Some(hours), None) => (Some(days), hours),
            _ => return Err(StretchError::Form),
        };
        let (from, to) = hours.split_once('-').ok_or(StretchError::Form)?;
        let days = days.map_or(Ok(WeekdaySet::ALL), days_of)?;
        let midnight_at_the_end = to == "24:00";
        let from = time_of(from)?;
        let to = if midnight_at_the_end { NaiveTime::MIN } else { time_of(to)? };
        if from == to && !midnight_at_the_end {
            return Err(StretchError::Empty);
        }
        Ok(Self { days, from, to })
    }
}

impl fmt::Display for Stretch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.days != WeekdaySet::ALL {
            write!(f, "{} ", written_days(self.days))?;
        }
        write!(f, "{}-", self.from.format("%H:%M"))?;
        match self.to {
            NaiveTime::MIN => f.write_str("24:00"),
            to => write!(f, "{}", to.format("%H:%M")),
        }
    }
}

impl TryFrom<String> for Stretch {
    type Error = StretchError;

    fn try_from(text: String) -> Result<Self, StretchError> {
        text.parse()
    }
}

impl From<Stretch> for String {
    fn from(stretch: Stretch) -> Self {
        stretch.to_string()
    }
}

/// `Mon-Fri`, `Sat`, `Mon,Wed,Fri`, `Sat-Mon`.
fn days_of(text: &str) -> Result<WeekdaySet, StretchError> {
    let mut days = WeekdaySet::EMPTY;
    for part in text.split(',') {
        let (first, last) = part.split_once('-').unwrap_or((part, part));
        let (mut day, last) = (day_of(first)?, day_of(last)?);
        days.insert(day);
        while day != last {
            day = day.succ();
            days.insert(day);
        }
    }
    Ok(days)
}

fn day_of(text: &str) -> Result<Weekday, StretchError> {
    let known = DAYS.iter().find(|(name, _)| *name == text);
    known.map(|(_, day)| *day).ok_or(StretchError::Day)
}

fn time_of(text: &str) -> Result<NaiveTime, StretchError> {
    let has_form = text.len() == 5 && text.is_ascii();
    NaiveTime::parse_from_str(text, "%H:%M")
        .ok()
        .filter(|time| has_form && time.format("%H:%M").to_string() == text)
        .ok_or(StretchError::Time)
}

/// Days in runs, from Monday on: `Mon-Wed,Fri`.
pub fn written_days(days: WeekdaySet) -> String {
    in_runs(days, |day| DAYS[day.num_days_from_monday() as usize].0, ["-", ","])
}

/// Runs of days in some words for each day, with what joins the ends of a run, and the runs.
pub fn in_runs(
    days: WeekdaySet,
    name: impl Fn(Weekday) -> &'static str,
    [until, then]: [&str; 2],
) -> String {
    let mut runs: Vec<(Weekday, Weekday)> = Vec::new();
    for day in days.iter(Weekday::Mon) {
        match runs.last_mut() {
            Some((_, last)) if last.succ() == day => *last = day,
            _ => runs.push((day, day)),
        }
    }
    let told = runs.into_iter().map(|(first, last)| match first == last {
        true => name(first).to_owned(),
        false => format!("{}{until}{}", name(first), name(last)),
    });
    told.collect::<Vec<_>>().join(then)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back_as_the_same() {
        for (written, kept) in [
            ("Mon-Fri 07:00-15:00", "Mon-Fri 07:00-15:00"),
            ("22:00-06:00", "22:00-06:00"),
            ("Sat,Sun 00:00-24:00", "Sat-Sun 00:00-24:00"),
            ("Sat-Mon 08:00-12:30", "Mon,Sat-Sun 08:00-12:30"),
            ("Mon,Wed,Fri  07:00-24:00", "Mon,Wed,Fri 07:00-24:00"),
            ("Mon-Sun 07:00-00:00", "07:00-24:00"),
        ] {
            let stretch: Stretch = written.parse().unwrap();
            assert_eq!(stretch.to_string(), kept);
            assert_eq!(kept.parse::<Stretch>().unwrap(), stretch);
            let hours = AskedHours::new(vec![stretch]);
            let json = serde_json::to_string(&hours).unwrap();
            assert_eq!(json, format!("[\"{kept}\"]"));
            assert_eq!(serde_json::from_str::<AskedHours>(&json).unwrap(), hours);
        }
    }

    #[test]
    fn what_is_no_stretch_is_refused_with_its_reason() {
        for (written, why) in [
            ("", StretchError::Form),
            ("Mon-Fri", StretchError::Time),
            ("Mon Tue 07:00-15:00", StretchError::Form),
            ("mon 07:00-15:00", StretchError::Day),
            ("Mon- 07:00-15:00", StretchError::Day),
            ("Mon 7:00-15:00", StretchError::Time),
            ("Mon 24:00-06:00", StretchError::Time),
            ("Mon 07:00-25:00", StretchError::Time),
            ("07:00-07:00", StretchError::Empty),
            ("00:00-00:00", StretchError::Empty),
        ] {
            assert_eq!(written.parse::<Stretch>(), Err(why), "{written}");
        }
    }
}
