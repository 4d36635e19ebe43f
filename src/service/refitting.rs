//! A client is fitted again: another fitting for a running follow-up.
//!
//! Never here: whether a fit is ready (`review`), reading files, what it does to sitting time (the
//! clinician decides that).
//! Promises: a fit that is not ready is begun only by a clinician's decision, whose reason is kept;
//! names and free words go to the table of fittings, the journal gets the version.

use super::act::{Act, Acted, act};
use super::error::ServiceError;
use super::office::Office;
use super::refusal::Refusal;
use crate::care::fitting::InSpiteOf;
use crate::care::{Fitting, RiskLevel};
use crate::config::fitting_version;
use crate::follow_up::{Instant, Occasion};
use crate::review::{next_in_words, readiness, shortfall_in_words};
use crate::store::{FollowUpId, Tx};

/// Puts another fitting on file, which the follow-up tests from now on.
///
/// # Errors
/// When the follow-up has ended or tests this fitting already, the fitting is not ready and nobody
/// decided, or the store refuses; then nothing has happened.
pub fn refit(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, fitting, decided): (&str, &Fitting, Option<&InSpiteOf>),
    now: Instant,
) -> Result<Acted, ServiceError> {
    let state = tx.load(follow_up)?.state;
    if state.is_closed() {
        return Err(Refusal::Closed.into());
    }
    let version = fitting_version(fitting);
    if state.fitting.as_ref() == Some(&version) {
        return Err(Refusal::SameFitting.into());
    }
    let decided = ready_or_decided(office, fitting, &state.terms.risk, decided)?;
    tx.add_fitting(follow_up, (&version, fitting), decided, now)?;
    let detail = serde_json::json!({ "by": by, "fitting": version });
    let in_spite_of = decided.map(|decided| decided.by.clone());
    let occasion = Occasion::Fitted { version, date: fitting.date, in_spite_of };
    let act_of = Act { occasion: &occasion, kind: "refit", detail, at: now, words: None };
    act(office, tx, follow_up, &act_of)
}

/// The decision to begin on a fit although it is not ready; none where it is ready.
///
/// # Errors
/// When it is not ready and nobody decided.
pub(super) fn ready_or_decided<'d>(
    office: &Office,
    fitting: &Fitting,
    risk: &RiskLevel,
    decided: Option<&'d InSpiteOf>,
) -> Result<Option<&'d InSpiteOf>, Refusal> {
    let practice = &office.clinic.fit;
    let readiness = readiness(fitting, Some(risk), practice);
    if readiness.is_ready() {
        return Ok(None);
    }
    if decided.is_some() {
        return Ok(decided);
    }
    let words = office.fitting_words.of("en");
    let shortfalls = readiness.shortfalls().iter();
    let missing = shortfalls.map(|lack| shortfall_in_words(lack, practice, words)).collect();
    let next = readiness.next().map(|next| next_in_words(next, words)).unwrap_or_default();
    Err(Refusal::FitNotReady { missing, next })
}
