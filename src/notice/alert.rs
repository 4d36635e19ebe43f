//! The alert to a clinician (R21, R22, R18, R27): reads top-down on a phone.
//!
//! Never here: what to examine for which finding (`review`), drawing.
//! Promises: what happened and what the caregivers were told come first, and the answer 'seen' right
//! after them, on the first screen; decisions stand at the end, below the facts that they rest on.

use super::draft::{Answer, Draft, Urgency};
use super::facts;
use super::page::Page;
use crate::care::ClinicianId;
use crate::follow_up::StepNumber;
use crate::follow_up::event::{AlertCause, AlertSending, StopReason};
use crate::follow_up::state::Standing;

/// The alert.
pub(super) fn alert(
    page: &Page<'_>,
    cause: AlertCause,
    sending: AlertSending,
    to: &ClinicianId,
) -> Draft {
    let w = page.w;
    let what = subject(page, cause);
    let what = match sending {
        AlertSending::Raised => what,
        AlertSending::Repeated | AlertSending::Shown => w.alert_repeated(&what),
        AlertSending::PassedOn => w.alert_passed_on(&what),
        AlertSending::BroughtBack => w.alert_brought_back(&what),
    };
    let mut draft = page.draft(Urgency::Alert, &what);
    draft.lead(lead(page, cause));
    let since = match page.scene.state.standing {
        Standing::Stopped { step, since } => w.alert_since(&page.when(since), &page.step(step)),
        Standing::Open | Standing::Suspended | Standing::Paused { .. } | Standing::Closed => {
            String::new()
        }
    };
    draft.line(format!("{since} {}", course(page, sending, to)).trim().to_owned());
    // Its words are those of the answer that came too late, and the writer knows them.
    if sending != AlertSending::Shown {
        page.said(&mut draft);
    }
    draft.line(match cause {
        AlertCause::Stop | AlertCause::AlarmingAgain => w.alert_contacts_told(),
        AlertCause::NobodyReachable => w.alert_nobody_do(),
    });
    if is_waiting(page, sending) {
        let seen = Answer::new(w.label_seen(), w.tap_seen());
        page.answers_under(&mut draft, w.alert_first(), vec![seen]);
    }
    facts::facts(page, &mut draft);
    page.answers_under(&mut draft, w.alert_decide(), decisions(page));
    draft.line(w.frame_own_words(&w.example_alert()));
    page.clinician_cautions(&mut draft);
    draft
}

fn subject(page: &Page<'_>, cause: AlertCause) -> String {
    let w = page.w;
    match cause {
        AlertCause::Stop => match page.scene.stop().map(|(why, _)| why) {
            Some(StopReason::Persisting) => w.alert_persisting(),
            Some(StopReason::Alarming) => w.alert_alarming(),
            Some(StopReason::RecheckUnreported) => w.alert_unreported(),
            Some(StopReason::Clinician) | None => w.alert_stopped(),
        },
        AlertCause::AlarmingAgain => w.alert_alarming_again(),
        AlertCause::NobodyReachable => w.alert_nobody(),
    }
}

fn lead(page: &Page<'_>, cause: AlertCause) -> String {
    let (w, client, client_ref) = (page.w, page.client(), page.client_ref());
    let stop = page.scene.stop();
    let place = stop.map_or_else(String::new, |(_, sites)| page.place(sites));
    match cause {
        AlertCause::Stop => match stop.map(|(why, _)| why) {
            Some(StopReason::Persisting) => w.alert_lead_persisting(&client, &client_ref, &place),
            Some(StopReason::Alarming) => w.alert_lead_alarming(&client, &client_ref, &place),
            Some(StopReason::RecheckUnreported) => {
                w.alert_lead_unreported(&client, &client_ref, &place)
            }
            Some(StopReason::Clinician) | None => w.alert_lead_stopped(&client, &client_ref),
        },
        AlertCause::AlarmingAgain => w.alert_lead_alarming_again(&client, &client_ref),
        AlertCause::NobodyReachable => w.alert_lead_nobody(&client, &client_ref),
    }
}

/// Whether somebody has to take the alert up still.
fn is_waiting(page: &Page<'_>, sending: AlertSending) -> bool {
    let alert = page.scene.state.alert.as_ref();
    let is_taken_up = || alert.is_some_and(|alert| alert.acknowledged.is_some());
    match sending {
        AlertSending::Raised | AlertSending::Repeated | AlertSending::PassedOn => true,
        AlertSending::BroughtBack => false,
        AlertSending::Shown => !is_taken_up(),
    }
}

/// How the alert came to this clinician.
fn course(page: &Page<'_>, sending: AlertSending, to: &ClinicianId) -> String {
    let w = page.w;
    let alert = page.scene.state.alert.as_ref();
    let raised = page.when(alert.map_or(page.scene.at, |alert| alert.raised_at));
    match sending {
        AlertSending::Raised => w.alert_raised(&page.duration(page.scene.plan.stop.repeat_alert)),
        AlertSending::Repeated => w.alert_still(&raised),
        AlertSending::PassedOn => {
            let others = alert.into_iter().flat_map(|alert| alert.sent.keys());
            let names = others.filter(|other| *other != to).map(|other| page.clinician(other));
            w.alert_yours(&raised, &w.list(names))
        }
        AlertSending::Shown => match alert.and_then(|alert| alert.acknowledged.as_ref()) {
            None => w.alert_still(&raised),
            Some((by, at)) => w.alert_taken_up(&raised, &page.clinician(by), &page.when(*at)),
        },
        AlertSending::BroughtBack => {
            let taken_up = alert.and_then(|alert| alert.acknowledged.as_ref());
            w.alert_undecided(&taken_up.map_or(raised, |(_, at)| page.when(*at)))
        }
    }
}

/// What a clinician can decide now.
fn decisions(page: &Page<'_>) -> Vec<Answer> {
    let w = page.w;
    let mut answers = Vec::new();
    match page.scene.state.standing {
        Standing::Stopped { step, .. } => {
            answers.extend(resume_steps(page, step).into_iter().map(|step| {
                let duration = page.scene.sit(step).map(|sit| page.duration(sit));
                let label = w.label_resume(&step, &duration.unwrap_or_default());
                Answer::new(label, w.tap_resume(&step))
            }));
            answers.push(Answer::new(w.label_keep_stopped(), w.tap_keep_stopped()));
        }
        Standing::Open | Standing::Suspended | Standing::Paused { .. } => {
            answers.push(page.stop_answer());
        }
        Standing::Closed => {}
    }
    answers.push(Answer::new(w.label_close(), w.tap_close()));
    answers
}

/// The step that a plain `resume` goes to (R23), and the first one.
fn resume_steps(page: &Page<'_>, stopped_on: StepNumber) -> Vec<StepNumber> {
    let back = stopped_on.count().saturating_sub(page.scene.plan.stop.step_back).max(1);
    let mut steps = vec![back, 1];
    steps.dedup();
    steps.into_iter().map(StepNumber::new).collect()
}
