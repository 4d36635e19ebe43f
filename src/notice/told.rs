//! What the clinician on cover is told without having to answer.
//!
//! Never here: alerts.
//! Promises: each says in one sentence what was seen, with the numbers that led to it.

use super::draft::{Draft, Urgency};
use super::facts;
use super::page::Page;
use super::sittings_table;
use crate::care::Minutes;
use crate::follow_up::event::{LookKind, TellDetail, TellReason};
use crate::follow_up::{LookId, StepNumber};

/// The notice for a reason with its numbers.
pub(super) fn told(page: &Page<'_>, why: TellReason, detail: &TellDetail) -> Draft {
    let w = page.w;
    let mut draft = page.draft(Urgency::News, &subject(page, why));
    let what = sentence(page, why, detail);
    draft.lead(w.told_lead(&page.client(), &page.client_ref(), &what));
    if let Some(line) = explained(page, why, detail) {
        draft.line(line);
    }
    page.said(&mut draft);
    facts::facts(page, &mut draft);
    if !page.scene.state.is_stopped() && !page.scene.state.is_closed() {
        page.answers_under(&mut draft, w.told_no_answer(), vec![page.stop_answer()]);
        draft.line(w.frame_own_words(&w.example_told()));
    }
    page.clinician_cautions(&mut draft);
    draft
}

fn subject(page: &Page<'_>, why: TellReason) -> String {
    let w = page.w;
    match why {
        TellReason::Missed => w.told_subject_missed(),
        TellReason::Unclear => w.told_subject_unclear(),
        TellReason::RepeatMarks => w.told_subject_repeat(),
        TellReason::Rising => w.told_subject_rising(),
        TellReason::Projection => w.told_subject_projection(),
        TellReason::Correction => w.told_subject_correction(),
        TellReason::LateReport => w.told_subject_late(),
        TellReason::Suspended => w.told_subject_suspended(),
    }
}

fn sentence(page: &Page<'_>, why: TellReason, detail: &TellDetail) -> String {
    let (w, looks) = (page.w, &page.scene.plan.looks);
    let subject = asked_about(page, detail);
    match why {
        TellReason::Missed => w.told_missed(&subject, &page.duration(looks.tell_clinic_after)),
        TellReason::Unclear => w.told_unclear(&subject),
        TellReason::RepeatMarks => repeated(page, detail),
        TellReason::Rising => rising(page, detail),
        TellReason::Projection => projection(page, detail),
        TellReason::Correction => w.told_correction(&subject),
        TellReason::LateReport if page.scene.state.is_stopped() => w.told_late_stopped(&subject),
        TellReason::LateReport => w.told_late(&subject),
        TellReason::Suspended => {
            let count = page.scene.state.missed_in_a_row.max(looks.missed_to_suspend);
            w.told_suspended(&w.counted("count.sittings", count))
        }
    }
}

/// What was asked, in words.
fn asked_about(page: &Page<'_>, detail: &TellDetail) -> String {
    match detail {
        TellDetail::Look { look } => look_named(page, *look),
        TellDetail::Announcement { sitting } => page.w.look_announcement(sitting),
        TellDetail::Nothing
        | TellDetail::RepeatedSites { .. }
        | TellDetail::Projection { .. }
        | TellDetail::Trend { .. } => page.w.look_unnamed(),
    }
}

fn look_named(page: &Page<'_>, id: LookId) -> String {
    let look = page.scene.state.look(id);
    let due = page.when(look.due);
    match (look.kind, look.sitting) {
        (LookKind::First, Some(number)) => page.w.look_first(&number, &due),
        (LookKind::Recheck, _) => page.w.look_recheck(&due),
        (LookKind::First | LookKind::Routine, _) => page.w.look_routine(&due),
    }
}

fn repeated(page: &Page<'_>, detail: &TellDetail) -> String {
    let TellDetail::RepeatedSites { sites, .. } = detail else {
        return page.w.told_subject_repeat();
    };
    let (count, of_last) =
        page.scene.plan.repeat_marks.map_or((0, 0), |repeat| (repeat.count, repeat.of_last));
    page.w.told_repeat(&page.w.sites(sites), &count, &of_last)
}

fn rising(page: &Page<'_>, detail: &TellDetail) -> String {
    let w = page.w;
    let TellDetail::Trend { points, .. } = detail else {
        return w.told_subject_rising();
    };
    w.told_rising(&w.counted("count.sittings", *points))
}

fn projection(page: &Page<'_>, detail: &TellDetail) -> String {
    let w = page.w;
    let TellDetail::Projection { expect_tenths, at_sit } = detail else {
        return w.told_subject_projection();
    };
    let expect = w.duration_minutes(&w.decimal(*expect_tenths, 1));
    let limit = page.duration(page.scene.plan.looks.fade_limit);
    w.told_projection(&page.duration(*at_sit), &expect, &limit)
}

/// A second sentence, where the first needs it.
fn explained(page: &Page<'_>, why: TellReason, detail: &TellDetail) -> Option<String> {
    let w = page.w;
    match why {
        TellReason::Rising => {
            let TellDetail::Trend { s, p_millionths, .. } = detail else { return None };
            // Rounded up, so that a p is never shown smaller than it is.
            let p = w.decimal(i64::from(p_millionths.div_ceil(1000)), 3);
            Some(w.told_rising_how(s, &p))
        }
        TellReason::Projection => {
            let step = page.scene.state.step().unwrap_or(StepNumber::new(page.scene.steps()));
            Some(w.told_projection_how(&page.step(step)))
        }
        TellReason::Correction | TellReason::LateReport => {
            let TellDetail::Look { look } = detail else { return None };
            let found = page.scene.state.look(*look).found.as_ref()?;
            let finding = sittings_table::named(page, found.finding);
            let sites = w.sites(&found.sites);
            let finding = if sites.is_empty() { finding } else { w.finding_at(&finding, &sites) };
            let fade = found.fade.filter(|fade| *fade > Minutes::ZERO);
            Some(w.told_stands(&match fade {
                Some(fade) => format!("{finding} ({})", page.duration(fade)),
                None => finding,
            }))
        }
        TellReason::Missed
        | TellReason::Unclear
        | TellReason::RepeatMarks
        | TellReason::Suspended => None,
    }
}
