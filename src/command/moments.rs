//! Instants and spans as commands print them.
//!
//! Never here: the present time; conversions (`follow_up::calendar`).
//! Promises: a time names its day; for programs it carries its offset.

use chrono::NaiveTime;

use crate::care::Minutes;
use crate::follow_up::{Calendar, Instant};

/// `2026-03-06 10:15`, by a clock.
pub(super) fn moment(zone: &Calendar, at: Instant) -> String {
    zone.local(at).format("%Y-%m-%d %H:%M").to_string()
}

/// `10:15`, by a clock.
pub(super) fn clock(zone: &Calendar, at: Instant) -> String {
    time_of_day(zone.local(at).time())
}

/// `10:15`.
pub(super) fn time_of_day(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}

/// RFC 3339 with the offset of a clock, for programs.
pub(super) fn stamp(zone: &Calendar, at: Instant) -> String {
    zone.local(at).to_rfc3339_opts(chrono::SecondsFormat::Secs, true)
}

/// How long something has lasted, in whole minutes.
pub(super) fn lasted(since: Instant, now: Instant) -> Minutes {
    Minutes::new(u32::try_from((now - since).num_minutes()).unwrap_or(0))
}
