//! `fadewatch health`: whether the service does its work, for people and for monitors outside.
//!
//! Never here: repairing anything.
//! Promises: one line a check; the exit code is 0 only when all of them are well; no names, no
//! words of people.

use std::process::ExitCode;

use chrono::TimeDelta;
use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::moments::lasted;
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::table::{Cell, Ink, Table};
use crate::config::Clinic;
use crate::follow_up::{Calendar, Instant};
use crate::notice::{Languages, trouble_in_words};
use crate::service::data;
use crate::service::due::LATE_MAX;
use crate::service::standing::{self, Standing};
use crate::store::{Mode, RememberedInstant, StoreError, View};

/// The service gives a sign of life once a minute; two may be lost to a busy machine.
const ALIVE_AGE_MAX: TimeDelta = TimeDelta::minutes(3);
/// Mail that waits longer than this is being refused: a request that comes later is of little use.
const OUTBOX_AGE_MAX: TimeDelta = TimeDelta::minutes(15);
/// A backup is made daily, and tried again for some hours where it fails.
const BACKUP_AGE_MAX: TimeDelta = TimeDelta::hours(30);
/// A reply is worked through within seconds.
const INBOX_AGE_MAX: TimeDelta = TimeDelta::minutes(5);

/// What `health` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fadewatch health\n  fadewatch health --json || page-somebody\n  \
    fadewatch health --metrics > fadewatch.prom"
)]
pub(super) struct HealthArgs {
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print Prometheus text, for a collector that reads a file.
    #[arg(long, conflicts_with = "json")]
    metrics: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct Health {
    well: bool,
    checks: Vec<Check>,
}

#[derive(Serialize)]
struct Check {
    check: &'static str,
    well: bool,
    fact: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    age_seconds: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    count: Option<u64>,
}

impl HealthArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let clinic = self.config.clinic()?;
        let now = now();
        let looked = data::open(&clinic, Mode::Reading)
            .and_then(|store| Ok(store.read_blocking(|view| checks(view, now))?));
        let mut checks = looked.unwrap_or_else(|error| {
            vec![Check::new("database", false, format!("cannot be read: {error}"))]
        });
        if clinic.backups.is_some() && checks.len() > 1 {
            checks.push(backup(&clinic, now)?);
        }
        checks.push(trouble(&clinic.data_folder, now));
        checks.push(Check::new("time zones", true, Calendar::database_version().to_owned()));
        let well = checks.iter().all(|check| check.well);
        if self.metrics {
            paper::print(&metrics(&checks))?;
        } else if self.json {
            paper::print_json(&Health { well, checks })?;
        } else {
            let mut table = Table::new(&["check", "state", "fact"]);
            for check in checks {
                let state = if check.well { "well" } else { "NOT WELL" };
                let ink = if check.well { Ink::Plain } else { Ink::Strong };
                table.row(vec![check.check.into(), Cell::inked(state, ink), check.fact.into()]);
            }
            paper::print(&table.rendered(paper::colour()))?;
        }
        Ok(if well { Exit::Done } else { Exit::Unwell }.into())
    }
}

impl Check {
    fn new(check: &'static str, well: bool, fact: String) -> Self {
        Self { check, well, fact, age_seconds: None, count: None }
    }

    fn aged(self, since: Option<Instant>, now: Instant) -> Self {
        Self { age_seconds: since.map(|since| (now - since).num_seconds().max(0)), ..self }
    }

    fn counted(self, count: u64) -> Self {
        Self { count: Some(count), ..self }
    }
}

/// The checks in the text format of Prometheus (exposition format 0.0.4).
fn metrics(checks: &[Check]) -> String {
    type Value = fn(&Check) -> Option<i64>;
    let kinds: [(&str, &str, Value); 3] = [
        ("well", "1 where a check is well, 0 where it is not.", |check| Some(check.well.into())),
        ("age_seconds", "How long the oldest thing of a check has waited.", |check| {
            check.age_seconds
        }),
        ("waiting", "How many things wait.", |check| check.count?.try_into().ok()),
    ];
    let mut text = String::new();
    for (name, help, value) in kinds {
        text.push_str(&format!("# HELP fadewatch_{name} {help}\n# TYPE fadewatch_{name} gauge\n"));
        for check in checks {
            if let Some(value) = value(check) {
                let of = check.check.replace(' ', "_");
                text.push_str(&format!("fadewatch_{name}{{check=\"{of}\"}} {value}\n"));
            }
        }
    }
    text
}

fn checks(view: &View<'_>, now: Instant) -> Result<Vec<Check>, StoreError> {
    let within = |since: Option<Instant>, most| since.is_none_or(|since| now - since <= most);
    let for_long = |since: Option<Instant>| {
        since.map(|since| format!(", the longest for {}", lasted(since, now))).unwrap_or_default()
    };
    let alive = view.remembered(RememberedInstant::LastAlive)?;
    let due = view.earliest_due()?;
    let outbox = view.outbox_counts()?;
    let (waiting, oldest) = view.received_waiting()?;
    let aside = view.received_set_aside(ASIDE_COUNTED_MAX)?.len();
    let fact = match alive {
        Some(at) => format!("last sign of life {} ago", lasted(at, now)),
        None => "it has never run on this data".to_owned(),
    };
    let is_alive = alive.is_some() && within(alive, ALIVE_AGE_MAX);
    let late = due.filter(|due| now - *due > LATE_MAX);
    let overdue = match late {
        Some(since) => format!("something is overdue for {}", lasted(since, now)),
        None => "nothing is overdue".to_owned(),
    };
    let queued = format!("{} to be sent{}", outbox.queued, for_long(outbox.oldest));
    let to_read = format!("{waiting} to be read{}", for_long(oldest));
    let look = "; `fadewatch aside` shows them";
    let look = if aside == 0 { "" } else { look };
    Ok(vec![
        Check::new("database", true, "can be read".to_owned()),
        Check::new("service", is_alive, fact).aged(alive, now),
        Check::new("due", late.is_none(), overdue).aged(late, now),
        Check::new("outbox", within(outbox.oldest, OUTBOX_AGE_MAX), queued)
            .aged(outbox.oldest, now)
            .counted(outbox.queued),
        Check::new("inbox", within(oldest, INBOX_AGE_MAX), to_read)
            .aged(oldest, now)
            .counted(waiting),
        Check::new("set aside", true, format!("{aside} for a person to look at{look}"))
            .counted(aside as u64),
    ])
}

/// Whether the daily backup was made.
fn backup(clinic: &Clinic, now: Instant) -> Result<Check, CommandError> {
    let last = data::open(clinic, Mode::Reading)?
        .read_blocking(|view| view.remembered(RememberedInstant::LastBackup))?;
    let fact = match last {
        Some(at) => format!("made {} ago, and tried out", lasted(at, now)),
        None => "none was made yet".to_owned(),
    };
    let is_recent = last.is_some_and(|at| now - at <= BACKUP_AGE_MAX);
    Ok(Check::new("backup", is_recent, fact).aged(last, now))
}

/// What the running service told of itself. It stays told until a service finds that it is over.
fn trouble(data: &std::path::Path, now: Instant) -> Check {
    let standing = match standing::read(data) {
        Ok(standing) => standing,
        Err(error) => return Check::new("trouble", false, format!("cannot be read: {error}")),
    };
    let languages = Languages::shipped();
    let english = languages.wording("en");
    let line = |one: &Standing| {
        let words = trouble_in_words(english, one.what);
        format!("{} (for {})", words.trim_end_matches('.'), lasted(one.since, now))
    };
    let fact = match standing.as_slice() {
        [] => "none is known".to_owned(),
        some => some.iter().map(line).collect::<Vec<_>>().join("; "),
    };
    let since = standing.iter().map(|one| one.since).min();
    Check::new("trouble", standing.is_empty(), fact).aged(since, now).counted(standing.len() as u64)
}

/// More mail than this, set aside, is no longer counted.
const ASIDE_COUNTED_MAX: u32 = 1000;
