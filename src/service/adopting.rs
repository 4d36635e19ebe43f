//! A running follow-up adopts another version of the plan.
//!
//! Never here: reading plan files; what adopting does to the state (the core).
//! Promises: a plan that would put this client's sittings or looks into quiet hours, or one
//! sitting into the next, is refused (R24); previewing changes nothing.

use std::sync::Arc;

use chrono::{NaiveTime, TimeDelta, Timelike};

use super::act::{Act, Acted, act_on};
use super::error::ServiceError;
use super::office::Office;
use super::refusal::Refusal;
use crate::care::{ClinicianId, Minutes, Plan, RiskLevel, Step};
use crate::config::plan_version;
use crate::follow_up::{Basis, Instant, Occasion, QuietHours, State, StepNumber, Terms};
use crate::store::{FollowUpId, Loaded, Tx};

/// Why a plan does not fit a client.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Misfit {
    /// Nobody has approved it.
    #[error("nobody has approved it")]
    NotApproved,
    /// It has no ladder for the client's level.
    #[error("it has no ladder for risk level `{0}`")]
    NoLevel(RiskLevel),
    /// The client has fewer sitting times than a step has sittings.
    #[error("step {step} has {needed} sittings a day, the client has {given} sitting times")]
    TooFewTimes {
        /// The step.
        step: StepNumber,
        /// Sittings a day on it.
        needed: u32,
        /// The client's sitting times.
        given: usize,
    },
    /// A sitting runs into the next.
    #[error("on step {step} the sitting of {} runs into the next", hm(.time))]
    Overlap {
        /// The step.
        step: StepNumber,
        /// When the sitting begins.
        time: NaiveTime,
    },
    /// A sitting or a look of it falls into quiet hours.
    #[error("on step {step} the sitting of {} reaches into quiet hours", hm(.time))]
    QuietSitting {
        /// The step.
        step: StepNumber,
        /// When the sitting begins.
        time: NaiveTime,
    },
    /// A routine look falls into quiet hours.
    #[error("the routine look of {} falls into quiet hours", hm(.0))]
    QuietLook(NaiveTime),
}

/// Adopts a plan.
///
/// # Errors
/// When the plan does not fit the client, the follow-up has ended, or the store refuses; then
/// nothing has happened.
pub fn adopt(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, plan): (&ClinicianId, &Plan),
    now: Instant,
) -> Result<Acted, ServiceError> {
    let loaded = office.load(tx, follow_up)?;
    check(&loaded, plan)?;
    let version = plan_version(plan);
    tx.add_plan(&version, plan, now)?;
    let detail = serde_json::json!({ "by": by, "plan": version });
    let occasion = Occasion::Adopt { by: by.clone(), plan: version };
    let act = Act { occasion: &occasion, kind: "adopt", detail, at: now, words: None };
    act_on(office, tx, loaded, &Arc::new(plan.clone()), &act, None)
}

/// The state that adopting a plan would lead to, with these people on cover.
///
/// # Errors
/// When it would be refused.
pub fn preview(
    cover: &[ClinicianId],
    loaded: &Loaded,
    (by, plan): (&ClinicianId, &Plan),
    now: Instant,
) -> Result<State, Refusal> {
    check(loaded, plan)?;
    let mut state = loaded.state.clone();
    let occasion = Occasion::Adopt { by: by.clone(), plan: plan_version(plan) };
    let basis = Basis { plan, cover };
    state.advance(basis, &occasion, now);
    Ok(state)
}

fn check(loaded: &Loaded, plan: &Plan) -> Result<(), Refusal> {
    if loaded.state.is_closed() {
        return Err(Refusal::Closed);
    }
    if plan_version(plan) == loaded.plan {
        return Err(Refusal::SamePlan);
    }
    let misfits = misfits(&loaded.state.terms, plan);
    if misfits.is_empty() { Ok(()) } else { Err(Refusal::PlanDoesNotFit(misfits)) }
}

/// Everything that stands against a plan for a client. Wall clock of an ordinary day (R24).
fn misfits(terms: &Terms, plan: &Plan) -> Vec<Misfit> {
    let mut misfits = Vec::new();
    if plan.approval.is_none() {
        misfits.push(Misfit::NotApproved);
    }
    let Some(ladder) = plan.ladder(&terms.risk) else {
        misfits.push(Misfit::NoLevel(terms.risk.clone()));
        return misfits;
    };
    for (number, step) in (1..).zip(&ladder.steps) {
        misfits.extend(misfits_of_step(terms, StepNumber::new(number), step));
    }
    let routine = ladder.routine.iter().flat_map(|routine| &routine.look_at);
    let looks = ladder.look_at.iter().chain(routine);
    misfits.extend(looks.filter(|at| is_quiet(terms.quiet, **at)).map(|at| Misfit::QuietLook(*at)));
    misfits
}

fn misfits_of_step(terms: &Terms, number: StepNumber, step: &Step) -> Vec<Misfit> {
    let (given, needed) = (terms.sittings_at.len(), step.sittings_per_day as usize);
    if given < needed {
        return vec![Misfit::TooFewTimes { step: number, needed: step.sittings_per_day, given }];
    }
    let times = &terms.sittings_at[..needed];
    let mut misfits = Vec::new();
    for (index, time) in times.iter().copied().enumerate() {
        let wait = match times.get(index + 1) {
            Some(next) => minute(*next) - minute(time),
            None => minute(times[0]) + DAY_MINUTES - minute(time),
        };
        if step.sit.count() >= wait {
            misfits.push(Misfit::Overlap { step: number, time });
        }
        let looks = step.look_offsets().into_iter().map(|offset| later(time, offset));
        if std::iter::once(time).chain(looks).any(|at| is_quiet(terms.quiet, at)) {
            misfits.push(Misfit::QuietSitting { step: number, time });
        }
    }
    misfits
}

const DAY_MINUTES: u32 = 24 * 60;

fn minute(time: NaiveTime) -> u32 {
    time.hour() * 60 + time.minute()
}

fn later(time: NaiveTime, offset: Minutes) -> NaiveTime {
    time.overflowing_add_signed(TimeDelta::minutes(i64::from(offset.count()))).0
}

fn is_quiet(quiet: Option<QuietHours>, time: NaiveTime) -> bool {
    quiet.is_some_and(|quiet| quiet.covers(time))
}

fn hm(time: &NaiveTime) -> String {
    time.format("%H:%M").to_string()
}
