//! Whether the service does its work: the checks that `fadewatch health` prints and that the board
//! tells monitors.
//!
//! Never here: repairing anything, printing.
//! Promises: one check, one fact; no names, no words of people; what cannot be read is not well.

use chrono::TimeDelta;
use serde::Serialize;

use super::moments::lasted;
use crate::config::Clinic;
use crate::follow_up::{Calendar, Instant};
use crate::notice::{Languages, trouble_in_words};
use crate::service::ServiceError;
use crate::service::due::LATE_MAX;
use crate::service::standing::{self, Standing};
use crate::store::{RememberedInstant, StoreError, View};

/// The service gives a sign of life once a minute; two may be lost to a busy machine.
const ALIVE_AGE_MAX: TimeDelta = TimeDelta::minutes(3);
/// Mail that waits longer than this is being refused: a request that comes later is of little use.
const OUTBOX_AGE_MAX: TimeDelta = TimeDelta::minutes(15);
/// A backup is made daily, and tried again for some hours where it fails.
const BACKUP_AGE_MAX: TimeDelta = TimeDelta::hours(30);
/// A reply is worked through within seconds.
const INBOX_AGE_MAX: TimeDelta = TimeDelta::minutes(5);

/// More mail than this, set aside, is no longer counted.
const ASIDE_COUNTED_MAX: u32 = 1000;

/// All checks.
#[derive(Serialize)]
pub(crate) struct Health {
    /// Whether all of them are well.
    pub(crate) well: bool,
    pub(crate) checks: Vec<Check>,
}

/// One check.
#[derive(Serialize)]
pub(crate) struct Check {
    pub(crate) check: &'static str,
    pub(crate) well: bool,
    pub(crate) fact: String,
    /// How long the oldest thing of the check has waited.
    #[serde(skip_serializing_if = "Option::is_none")]
    age_seconds: Option<i64>,
    /// How many things wait.
    #[serde(skip_serializing_if = "Option::is_none")]
    count: Option<u64>,
}

impl Health {
    /// The health of a clinic's service, from what [`checks`] found in its data.
    pub(crate) fn of(
        clinic: &Clinic,
        looked: Result<Vec<Check>, ServiceError>,
        now: Instant,
    ) -> Self {
        let mut checks = looked.unwrap_or_else(|error| {
            vec![Check::new("database", false, format!("cannot be read: {error}"))]
        });
        checks.push(trouble(&clinic.data_folder, now));
        checks.push(Check::new("time zones", true, Calendar::database_version().to_owned()));
        Self { well: checks.iter().all(|check| check.well), checks }
    }

    /// The checks in the text format of Prometheus (exposition format 0.0.4).
    pub(crate) fn metrics(&self) -> String {
        type Value = fn(&Check) -> Option<i64>;
        let kinds: [(&str, &str, Value); 3] = [
            ("well", "1 where a check is well, 0 where it is not.", |check| {
                Some(check.well.into())
            }),
            ("age_seconds", "How long the oldest thing of a check has waited.", |check| {
                check.age_seconds
            }),
            ("waiting", "How many things wait.", |check| check.count?.try_into().ok()),
        ];
        let mut text = String::new();
        for (name, help, value) in kinds {
            text.push_str(&format!(
                "# HELP fadewatch_{name} {help}\n# TYPE fadewatch_{name} gauge\n"
            ));
            for check in &self.checks {
                if let Some(value) = value(check) {
                    let of = check.check.replace(' ', "_");
                    text.push_str(&format!("fadewatch_{name}{{check=\"{of}\"}} {value}\n"));
                }
            }
        }
        text
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

/// What the data tell.
///
/// # Errors
/// When the data cannot be read.
pub(crate) fn checks(
    view: &View<'_>,
    clinic: &Clinic,
    now: Instant,
) -> Result<Vec<Check>, StoreError> {
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
    let mut checks = vec![
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
    ];
    if clinic.backups.is_some() {
        checks.push(backup(view, now)?);
    }
    Ok(checks)
}

/// Whether the daily backup was made.
fn backup(view: &View<'_>, now: Instant) -> Result<Check, StoreError> {
    let last = view.remembered(RememberedInstant::LastBackup)?;
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
