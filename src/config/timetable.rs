//! A client's times of day held against a plan: R2's count, R24's quiet hours, sittings that
//! overlap.
//!
//! Never here: dates, zones, daylight saving: the refusal goes by the wall clock of an ordinary
//! day.
//! Promises: `from` lies inside the quiet hours and `to` outside; quiet hours may wrap midnight.

use chrono::{NaiveTime, Timelike};

use super::problem::Report;
use super::table::{At, Table};
use crate::care::{Ladder, RiskLevel, Step};

/// The hours in which a client is not asked (R24). `from` is inside, `to` outside; they differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct QuietHours {
    /// The first quiet minute.
    pub from: NaiveTime,
    /// The first minute that is not quiet any more.
    pub to: NaiveTime,
}

impl QuietHours {
    /// Whether a time of day is quiet.
    pub fn contains(&self, time: NaiveTime) -> bool {
        if self.from <= self.to {
            self.from <= time && time < self.to
        } else {
            self.from <= time || time < self.to
        }
    }
}

/// The client's own times, as read.
pub(super) struct DayTimes {
    /// In time order.
    pub(super) sittings_at: Vec<At<NaiveTime>>,
    pub(super) quiet: Option<At<QuietHours>>,
}

impl DayTimes {
    /// Reads `sittings_at` and `quiet`. None where either cannot be read.
    pub(super) fn read(client: &Table<'_>) -> Option<Self> {
        let sittings_at = client.times("sittings_at").map(|mut times| {
            times.sort_by_key(|time| time.value);
            times
        });
        let quiet = match client.times("quiet") {
            Some(times) => quiet_hours(client, &times),
            None if client.has("quiet") => None,
            None => Some(None),
        };
        Some(Self { sittings_at: sittings_at?, quiet: quiet? })
    }

    /// The times of the sittings alone.
    pub(super) fn sittings(&self) -> Vec<NaiveTime> {
        self.sittings_at.iter().map(|time| time.value).collect()
    }

    /// Holds the times against the ladder that the client is to climb.
    pub(super) fn check(&self, client: &Table<'_>, level: &RiskLevel, ladder: &Ladder) {
        self.check_count(client, level, ladder);
        self.check_overlap(client.report, ladder);
        if let Some(quiet) = &self.quiet {
            self.check_quiet_sittings(client.report, quiet, ladder);
            check_quiet_looks(client.report, quiet, level, ladder);
        }
    }

    fn check_count(&self, client: &Table<'_>, level: &RiskLevel, ladder: &Ladder) {
        let most = (1..)
            .zip(&ladder.steps)
            .max_by_key(|(number, step)| (step.sittings_per_day, std::cmp::Reverse(*number)));
        let Some((number, step)) = most else { return };
        let needed = step.sittings_per_day as usize;
        let given = self.sittings_at.len();
        if given >= needed {
            return;
        }
        client
            .report
            .error(
                client.value_span("sittings_at"),
                format!("{given} of the {needed} sitting times that the plan needs"),
            )
            .label(format!("step {number} of level `{level}` has {needed} sittings a day"))
            .why("sittings are planned at these times, the first of the day first (R2)")
            .help("add times of day, or choose a plan with fewer sittings");
    }

    fn check_overlap(&self, report: &Report, ladder: &Ladder) {
        for (index, time) in self.sittings_at.iter().enumerate() {
            let next = self.sittings_at.get(index + 1);
            if next.is_some_and(|next| next.value == time.value) {
                report
                    .doubt(time.span.clone(), "two sittings at the same time of day".to_owned())
                    .label("the same time twice")
                    .why("the second would be dropped every day, since the first is not over (R4)")
                    .help("take one of the two out");
                continue;
            }
            let meets = (1..).zip(&ladder.steps).find_map(|(number, step)| {
                let planned = step.sittings_per_day as usize;
                let (next, wait) = if index + 1 < planned {
                    (next?, minute(next?.value) - minute(time.value))
                } else if index + 1 == planned {
                    let first = self.sittings_at.first()?;
                    (first, minute(first.value) + DAY_MINUTES - minute(time.value))
                } else {
                    return None;
                };
                (step.sit.count() >= wait).then_some((number, step, next))
            });
            if let Some((number, step, next)) = meets {
                let what = format!(
                    "the sitting at {} runs into the one at {}",
                    hm(time.value),
                    hm(next.value)
                );
                let note = report
                    .doubt(time.span.clone(), what)
                    .label(format!("still running or unsettled: {} on step {number}", step.sit))
                    .why("the later sitting would be dropped every day (R4)")
                    .help("put the times further apart, or choose a plan with shorter sittings");
                if next.span != time.span {
                    note.beside(next.span.clone(), "begins then");
                }
            }
        }
    }

    fn check_quiet_sittings(&self, report: &Report, quiet: &At<QuietHours>, ladder: &Ladder) {
        for (index, time) in self.sittings_at.iter().enumerate() {
            let steps: Vec<(u32, &Step)> = (1..)
                .zip(&ladder.steps)
                .filter(|(_, step)| index < step.sittings_per_day as usize)
                .collect();
            if !steps.is_empty() {
                check_quiet_sitting(report, quiet, time, &steps);
            }
        }
    }
}

/// One sitting on the steps that have it: its begin, its looks, the time between; the first that
/// does not fit is told.
fn check_quiet_sitting(
    report: &Report,
    quiet: &At<QuietHours>,
    time: &At<NaiveTime>,
    steps: &[(u32, &Step)],
) {
    let hours = in_words(&quiet.value);
    let begins = hm(time.value);
    if quiet.value.contains(time.value) {
        report
            .error(time.span.clone(), format!("a sitting at {begins} in quiet hours"))
            .label("begins in quiet hours")
            .beside(quiet.span.clone(), format!("quiet {hours}"))
            .why("a sitting is announced as it begins, and nobody is asked in quiet hours (R24)")
            .help(format!("move the sitting out of {hours}"));
        return;
    }
    let quiet_look = steps.iter().find_map(|(number, step)| {
        let looks = step.look_offsets().into_iter();
        let mut times = looks.map(|offset| later(time.value, offset.count()));
        Some((number, step, times.find(|time| quiet.value.contains(*time))?))
    });
    if let Some((number, step, look)) = quiet_look {
        report
            .error(time.span.clone(), format!("a look at {} would fall into quiet hours", hm(look)))
            .label(format!("step {number} sits {} from {begins} on", step.sit))
            .beside(quiet.span.clone(), format!("quiet {hours}"))
            .why("skin is looked at during and after every sitting, in waking hours (R24)")
            .help("let the sitting begin earlier, or the quiet hours later");
        return;
    }
    let until_quiet = minute(quiet.value.from) + DAY_MINUTES - minute(time.value);
    let through = steps.iter().find(|(_, step)| until_quiet % DAY_MINUTES < step.sit.count());
    if let Some((number, step)) = through {
        report
            .doubt(time.span.clone(), "a sitting runs through the quiet hours".to_owned())
            .label(format!("step {number} sits {} from {begins} on", step.sit))
            .beside(quiet.span.clone(), format!("quiet {hours}"))
            .why("nobody is to sit through the hours in which nobody is asked")
            .help("let the sitting begin at another time, or change the quiet hours");
    }
}

/// R24 for the routine looks of the build-up and of the routine phase.
fn check_quiet_looks(report: &Report, quiet: &At<QuietHours>, level: &RiskLevel, ladder: &Ladder) {
    let routine = ladder.routine.iter().flat_map(|routine| &routine.look_at);
    for (times, of) in [
        (ladder.look_at.iter().collect::<Vec<_>>(), "during the build-up"),
        (routine.collect(), "in the routine phase"),
    ] {
        for time in times.into_iter().filter(|time| quiet.value.contains(**time)) {
            report
                .error(
                    quiet.span.clone(),
                    format!("the plan's look at {} would fall into quiet hours", hm(*time)),
                )
                .label(format!("quiet {}", in_words(&quiet.value)))
                .why(format!(
                    "level `{level}` looks at {} {of}; nobody is asked in quiet hours (R24)",
                    hm(*time)
                ))
                .help("choose other quiet hours, or a plan with another `look_at`");
        }
    }
}

fn quiet_hours(client: &Table<'_>, times: &[At<NaiveTime>]) -> Option<Option<At<QuietHours>>> {
    let span = client.value_span("quiet");
    if times.is_empty() {
        return Some(None);
    }
    let [from, to] = times else {
        client
            .report
            .error(span, format!("`quiet` needs two times, not {}", times.len()))
            .label("from when, until when")
            .why("in these hours nobody is asked to look (R24)")
            .help("write it like `quiet = [\"21:00\", \"07:00\"]`");
        return None;
    };
    if from.value == to.value {
        client
            .report
            .doubt(span, "quiet hours of no length".to_owned())
            .label("they begin when they end")
            .why("such hours could mean never, or all day; they are taken as never")
            .help("take `quiet` out, or write it like `quiet = [\"21:00\", \"07:00\"]`");
        return Some(None);
    }
    let value = QuietHours { from: from.value, to: to.value };
    Some(Some(At { value, span }))
}

const DAY_MINUTES: u32 = 24 * 60;

fn minute(time: NaiveTime) -> u32 {
    time.hour() * 60 + time.minute()
}

fn later(time: NaiveTime, minutes: u32) -> NaiveTime {
    let minute = (minute(time) + minutes) % DAY_MINUTES;
    NaiveTime::from_hms_opt(minute / 60, minute % 60, 0)
        .expect("OK because the minute was taken modulo one day")
}

fn hm(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}

fn in_words(quiet: &QuietHours) -> String {
    format!("{} to {}", hm(quiet.from), hm(quiet.to))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(hour: u32, minute: u32) -> NaiveTime {
        NaiveTime::from_hms_opt(hour, minute, 0).unwrap()
    }

    #[test]
    fn quiet_hours_hold_their_beginning_and_not_their_end() {
        let night = QuietHours { from: at(21, 0), to: at(7, 0) };
        for (time, quiet) in [
            (at(20, 59), false),
            (at(21, 0), true),
            (at(0, 0), true),
            (at(6, 59), true),
            (at(7, 0), false),
        ] {
            assert_eq!(night.contains(time), quiet, "{time}");
        }
        let noon = QuietHours { from: at(12, 0), to: at(14, 0) };
        assert!(noon.contains(at(12, 0)) && !noon.contains(at(14, 0)) && !noon.contains(at(0, 0)));
    }
}
