//! Instants and spans as commands print them.
//!
//! Never here: the present time; conversions (`follow_up::calendar`).
//! Promises: a time names its day; for programs it carries its offset.

use chrono::NaiveTime;

use crate::care::Minutes;
use crate::follow_up::{Calendar, Instant};

/// `2026-03-06 10:15`, by a clock.
pub(crate) fn moment(zone: &Calendar, at: Instant) -> String {
    zone.local(at).format("%Y-%m-%d %H:%M").to_string()
}

/// `10:15`, by a clock.
pub(crate) fn clock(zone: &Calendar, at: Instant) -> String {
    time_of_day(zone.local(at).time())
}

/// `10:15`.
pub(crate) fn time_of_day(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}

/// RFC 3339 with the offset of a clock, for programs.
pub(crate) fn stamp(zone: &Calendar, at: Instant) -> String {
    zone.local(at).to_rfc3339_opts(chrono::SecondsFormat::Secs, true)
}

/// How long something has lasted, in whole minutes; after two days in whole hours, after two weeks
/// in whole days, since nobody wants to know more.
pub(crate) fn lasted(since: Instant, now: Instant) -> Minutes {
    let minutes = u32::try_from((now - since).num_minutes()).unwrap_or(0);
    let grain = match minutes {
        0..TWO_DAYS => 1,
        TWO_DAYS..TWO_WEEKS => 60,
        TWO_WEEKS.. => 24 * 60,
    };
    Minutes::new(minutes / grain * grain)
}

const TWO_DAYS: u32 = 2 * 24 * 60;
const TWO_WEEKS: u32 = 14 * 24 * 60;

#[cfg(test)]
mod tests {
    use chrono::TimeDelta;

    use super::*;

    #[test]
    fn a_long_time_is_told_without_its_minutes() {
        let now = Instant::UNIX_EPOCH + TimeDelta::days(9999);
        for (minutes, told) in
            [(0, "0min"), (61, "1h1min"), (2881, "2d"), (3001, "2d2h"), (30001, "20d")]
        {
            assert_eq!(lasted(now - TimeDelta::minutes(minutes), now).to_string(), told);
        }
    }
}
