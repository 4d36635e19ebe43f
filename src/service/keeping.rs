//! The loops of the day: the daily message, the backup, what has been kept for long enough.
//!
//! Never here: what each of them does.
//! Promises: what fails is noted as trouble and tried again; nothing is erased but what the clinic
//! file says, and only after its time.

use std::sync::Arc;
use std::time::Duration;

use chrono::{NaiveTime, TimeDelta};
use tracing::{error, info, warn};

use super::error::ServiceError;
use super::ledger::Area;
use super::shared::Shared;
use super::{backing_up, daily};
use crate::follow_up::Instant;
use crate::notice::ServiceTrouble;
use crate::store::{FollowUpId, ListedStanding, RememberedInstant, Store, StoreError, View};

/// How long after a failed backup it is tried again.
const AGAIN: Duration = Duration::from_secs(30 * 60);
/// Mails erased in one transaction, so that replies get their turn in between.
const ERASED_AT_ONCE: u32 = 200;
/// Follow-ups read at once.
const PORTION: u32 = 500;
/// Who is noted as having erased what the clinic file says.
const BY_SCHEDULE: &str = "schedule";

/// Sends the day's message at the clinic's hour.
pub(super) async fn daily_messages(shared: Arc<Shared>) {
    let Some(daily_at) = shared.office.clinic.watch.daily_at else {
        return std::future::pending().await;
    };
    loop {
        let (office, now) = (Arc::clone(&shared.office), shared.now().await);
        let reading = Arc::clone(&office);
        let report = shared.store.read(move |view| daily::report(&reading, view, now)).await;
        let written = match report {
            Ok(report) => {
                shared.store.write(move |tx| daily::write(&office, tx, report, now)).await
            }
            Err(failed) => Err(failed),
        };
        match written {
            Ok(true) => shared.committed(),
            Ok(false) => {}
            Err(failed) => {
                shared.failed("writing the daily message", &failed).await;
                continue;
            }
        }
        let next = daily::next_slot(&shared.office.calendar, daily_at, now);
        shared.clock.sleep_until(next).await;
    }
}

/// Checks the data through once, then makes the daily backup and erases what has been kept for long
/// enough.
pub(super) async fn upkeep(shared: Arc<Shared>) {
    check_data(&shared).await;
    let backups = shared.office.clinic.backups.clone();
    let at = backups.as_ref().map_or_else(|| NaiveTime::from_hms_opt(3, 30, 0), |b| Some(b.at));
    let Some(at) = at else { return std::future::pending().await };
    loop {
        let now = shared.now().await;
        let slot = daily::latest_slot(&shared.office.calendar, at, now);
        let done = match &backups {
            Some(backups) => back_up(&shared, backups.clone(), slot, now).await,
            None => Ok(()),
        };
        let done = match done {
            Ok(()) => erase_old(&shared, now).await,
            failed => failed,
        };
        let trouble = done.is_err() && backups.is_some();
        shared.note(Area::Backup, trouble.then_some(ServiceTrouble::Backup));
        if let Err(failed) = done {
            error!(error = %with_cause(&failed), "the daily upkeep failed; tried again later");
            tokio::time::sleep(AGAIN).await;
            continue;
        }
        shared.clock.sleep_until(daily::next_slot(&shared.office.calendar, at, now)).await;
    }
}

/// The whole check that opening leaves out where the file is large.
async fn check_data(shared: &Shared) {
    match shared.store.read(|view| view.check_integrity()).await {
        Ok(()) => shared.note(Area::Soundness, None),
        Err(StoreError::Damaged { finding }) => {
            error!(finding, "the data is damaged; restore a backup");
            shared.note(Area::Soundness, Some(ServiceTrouble::Damaged));
        }
        Err(failed) => warn!(error = %failed, "the data could not be checked"),
    }
}

async fn back_up(
    shared: &Shared,
    backups: crate::config::Backups,
    slot: Instant,
    now: Instant,
) -> Result<(), ServiceError> {
    let last = shared.store.read(|view| view.remembered(RememberedInstant::LastBackup)).await?;
    if last.is_some_and(|last| last >= slot) {
        return Ok(());
    }
    let store = shared.store.clone();
    blocking(move || backing_up::back_up(&store, &backups, now)).await?;
    info!("a backup was made and tried out");
    Ok(shared.store.write(move |tx| tx.remember(RememberedInstant::LastBackup, now)).await?)
}

/// Erases mail and people that have been kept for as long as the clinic file says.
async fn erase_old(shared: &Shared, now: Instant) -> Result<(), ServiceError> {
    let retention = shared.office.clinic.retention;
    let ago = move |days: u32| now - TimeDelta::days(i64::from(days));
    let (mut erased, mut forgotten) = (0, 0);
    if let Some(days) = retention.mail_days {
        loop {
            let erasing =
                shared.store.write(move |tx| tx.erase_mail_before(ago(days), ERASED_AT_ONCE));
            let count: usize = erasing.await.map_err(|failed: StoreError| failed)?;
            erased += count;
            if count == 0 {
                break;
            }
        }
    }
    if let Some(days) = retention.people_days {
        for follow_up in shared.store.read(move |view| closed_before(view, ago(days))).await? {
            shared.store.write(move |tx| tx.forget(follow_up, BY_SCHEDULE, now)).await?;
            forgotten += 1;
        }
    }
    if forgotten > 0 {
        let store = shared.store.clone();
        blocking(move || Ok(Store::scrub(&store)?)).await?;
    }
    if erased + forgotten > 0 {
        info!(
            mails = erased,
            follow_ups = forgotten,
            "personal data was erased that had been kept for long enough"
        );
    }
    Ok(())
}

/// Follow-ups whose last entry, their closing, lies before an instant, and of which people are kept.
fn closed_before(view: &View<'_>, before: Instant) -> Result<Vec<FollowUpId>, StoreError> {
    let (mut found, mut after) = (Vec::new(), None);
    loop {
        let portion = view.follow_ups(after, PORTION)?;
        let Some(last) = portion.last() else { return Ok(found) };
        after = Some(last.follow_up);
        for listed in portion.iter().filter(|l| l.standing == ListedStanding::Closed) {
            let ended = view.last_entry_at(listed.follow_up)?;
            if ended.is_some_and(|ended| ended < before) && !view.is_forgotten(listed.follow_up)? {
                found.push(listed.follow_up);
            }
        }
    }
}

async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, ServiceError> + Send + 'static,
) -> Result<T, ServiceError> {
    // It only fails when the runtime is going down or the work panicked: a loop that ends then.
    tokio::task::spawn_blocking(work).await.unwrap_or(Err(ServiceError::LoopEnded))
}

fn with_cause(failed: &ServiceError) -> String {
    let cause = std::error::Error::source(failed).map(|cause| format!(": {cause}"));
    format!("{failed}{}", cause.unwrap_or_default())
}
