//! Who is on cover when, and what a change of cover leads to (R22).
//!
//! Never here: sending alerts; who may change the cover (the edges check roles).
//! Promises: there is always somebody on cover; a change is on record as a fact of the clinic; once
//! it holds, every alert that waits is due by the new cover.

use chrono::NaiveDate;

use super::error::ServiceError;
use super::office::Office;
use crate::care::ClinicianId;
use crate::care::rota::{Rota, Shift};
use crate::config::Role;
use crate::follow_up::{Basis, Instant, State};
use crate::store::{
    FollowUpId, ListedAlert, OccasionRecord, RememberedInstant, StoreError, Tx, View,
};

/// Follow-ups looked at in one go.
const PAGE: u32 = 1000;

/// Who is on cover for a client at an instant, in calling order: the client's own cover, else who
/// is on that day, else the clinic's usual order.
///
/// # Errors
/// When the store cannot be read.
pub fn cover(
    office: &Office,
    view: &View<'_>,
    state: &State,
    at: Instant,
) -> Result<Vec<ClinicianId>, StoreError> {
    if !state.terms.cover.is_empty() {
        return Ok(state.terms.cover.clone());
    }
    clinic_cover(office, view, at)
}

/// Who is on cover at the clinic at an instant, in calling order.
///
/// # Errors
/// When the store cannot be read.
pub fn clinic_cover(
    office: &Office,
    view: &View<'_>,
    at: Instant,
) -> Result<Vec<ClinicianId>, StoreError> {
    Ok(on(office, &view.rota()?, office.calendar.date(at)))
}

/// Who is on cover on a day. Whoever left the clinic, or may decide no longer, is passed over.
pub fn on(office: &Office, rota: &Rota, day: NaiveDate) -> Vec<ClinicianId> {
    let decides = |id: &&ClinicianId| {
        office.clinic.clinician(id).is_some_and(|person| person.role == Role::Clinician)
    };
    let shift: Vec<ClinicianId> =
        rota.on(day).unwrap_or_default().iter().filter(decides).cloned().collect();
    if shift.is_empty() { office.clinic.cover.clone() } else { shift }
}

/// Nobody plans cover for longer; a later year is a slip.
const DAYS_AHEAD_MAX: i64 = 366;

/// Why days of cover cannot be set.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ShiftFault {
    /// The last day comes before the first.
    #[error("the last day comes before the first")]
    Backwards,
    /// They lie behind today.
    #[error("these days are over")]
    Over,
    /// They lie too far ahead.
    #[error("this is more than a year ahead")]
    FarAhead,
}

/// Days of cover, checked against today at the clinic.
///
/// # Errors
/// When they cannot be set.
pub fn shift(
    from: NaiveDate,
    until: NaiveDate,
    cover: Vec<ClinicianId>,
    today: NaiveDate,
) -> Result<Shift, ShiftFault> {
    if until < from {
        return Err(ShiftFault::Backwards);
    }
    if until < today {
        return Err(ShiftFault::Over);
    }
    if (until - today).num_days() > DAYS_AHEAD_MAX {
        return Err(ShiftFault::FarAhead);
    }
    Ok(Shift { from, until, cover })
}

/// Sets who is on cover on some days, or, with nobody named, the usual order again. What waits for
/// somebody is due by the new cover at once, where the change holds already.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn set_shift(
    office: &Office,
    tx: &mut Tx<'_>,
    (by, shift): (&ClinicianId, Shift),
    now: Instant,
) -> Result<(), ServiceError> {
    let mut rota = tx.rota()?;
    let today = office.calendar.date(now);
    let before = on(office, &rota, today);
    let detail = serde_json::json!({
        "by": by, "from": shift.from, "until": shift.until, "cover": shift.cover,
    });
    rota.set(shift, today);
    tx.keep_rota(&rota)?;
    let record = OccasionRecord { follow_up: None, kind: "cover".to_owned(), at: now, detail };
    tx.add_occasion(&record)?;
    if on(office, &rota, today) != before {
        reckon_alerts_anew(office, tx, now)?;
    }
    Ok(())
}

/// Notices that another cover holds than when it was last looked, and has what waits for somebody
/// be due by it.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn keep_up(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<(), ServiceError> {
    let rota = tx.rota()?;
    let Some(next) = rota_change_after(office, &rota, tx.remembered(RememberedInstant::Cover)?)
    else {
        return Ok(());
    };
    if next <= now {
        reckon_alerts_anew(office, tx, now)?;
        tx.remember(RememberedInstant::Cover, now)?;
    }
    Ok(())
}

/// When another cover will hold that nobody has taken notice of yet, where one is planned.
///
/// # Errors
/// When the store cannot be read.
pub fn next_change(office: &Office, view: &View<'_>) -> Result<Option<Instant>, StoreError> {
    let since = view.remembered(RememberedInstant::Cover)?;
    Ok(rota_change_after(office, &view.rota()?, since))
}

fn rota_change_after(office: &Office, rota: &Rota, since: Option<Instant>) -> Option<Instant> {
    let since = since.map_or(NaiveDate::MIN, |since| office.calendar.date(since));
    rota.next_change(since).map(|day| office.calendar.midnight(day))
}

/// The next due time of every follow-up with an alert, by who is on cover now.
fn reckon_alerts_anew(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<(), ServiceError> {
    for follow_up in with_alert(tx)? {
        let loaded = tx.load(follow_up)?;
        let plan = office.plan(tx, &loaded.plan)?;
        let cover = cover(office, tx, &loaded.state, now)?;
        let next_due = loaded.state.next_due(&Basis { plan: &plan, cover: &cover });
        let record = OccasionRecord {
            follow_up: Some(follow_up),
            kind: "cover".to_owned(),
            at: now,
            detail: serde_json::json!({ "cover": cover }),
        };
        let change = loaded.change(&record, &[], &loaded.state, next_due);
        let kept = tx.add_occasion(&record)?;
        tx.append(&change, kept)?;
    }
    Ok(())
}

fn with_alert(view: &View<'_>) -> Result<Vec<FollowUpId>, StoreError> {
    let mut found = Vec::new();
    let mut after = None;
    loop {
        let page = view.follow_ups(after, PAGE)?;
        let Some(last) = page.last() else { return Ok(found) };
        after = Some(last.follow_up);
        let alerts = page.iter().filter(|listed| listed.alert != ListedAlert::None);
        found.extend(alerts.map(|listed| listed.follow_up));
    }
}
