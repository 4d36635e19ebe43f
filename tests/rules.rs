//! The rules of a follow-up, R1 to R29, as sentences: small scenarios with what has to come of
//! them, written by hand from the text of the rules, and a second implementation to compare with.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

#[path = "rules/agreement.rs"]
mod agreement;
#[path = "rules/clock.rs"]
mod clock;
#[path = "rules/credit.rs"]
mod credit;
#[path = "rules/delivery.rs"]
mod delivery;
#[path = "rules/fine_print.rs"]
mod fine_print;
#[path = "rules/hours.rs"]
mod hours;
#[path = "rules/ladder.rs"]
mod ladder;
#[path = "rules/live.rs"]
mod live;
#[path = "rules/looking_ahead.rs"]
mod looking_ahead;
#[path = "rules/marks.rs"]
mod marks;
#[path = "rules/newer_alerts.rs"]
mod newer_alerts;
#[path = "python/mod.rs"]
mod python;
#[path = "rules/rulings_page.rs"]
mod rulings_page;
#[path = "rules/rulings_replies.rs"]
mod rulings_replies;
#[path = "rules/rulings_settling.rs"]
mod rulings_settling;
#[path = "rules/shifts.rs"]
mod shifts;
#[path = "rules/silence.rs"]
mod silence;
#[path = "rules/starts.rs"]
mod starts;
#[path = "rules/stops.rs"]
mod stops;
#[path = "rules/story.rs"]
mod story;
