//! Hours that suit a test which runs by the real clock.
//!
//! Never here: what is tested.
//! Promises: where it is about noon, no test runs into a night or a midnight.

use chrono::{DateTime, TimeDelta, Timelike, Utc};

/// A zone of whole hours where it is between twelve and one now, and how far it is ahead.
pub fn zone_at_noon() -> (String, TimeDelta) {
    let ahead = 12 - i64::from(Utc::now().hour());
    // By POSIX's reading of the sign, zones east of Greenwich have a minus.
    let zone = if ahead == 0 { "Etc/GMT".to_owned() } else { format!("Etc/GMT{:+}", -ahead) };
    (zone, TimeDelta::hours(ahead))
}

/// The first whole minute that is at least this many seconds from now.
pub fn minute_in(seconds: i64) -> DateTime<Utc> {
    let at = Utc::now() + TimeDelta::seconds(seconds + 59);
    at.with_second(0).and_then(|at| at.with_nanosecond(0)).unwrap()
}
