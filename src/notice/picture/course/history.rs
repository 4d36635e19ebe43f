//! The course of a follow-up as columns of a chart: sittings, routine looks with news, and the
//! signs between them (stops, resumptions, holds).
//!
//! Never here: drawing, how signs are named.
//! Promises: built from the journal and the state that it adds up to; every sitting has exactly
//! one column; a look that was missed never shows as clear.

use std::collections::BTreeMap;

use super::fade::Fade;
use crate::care::{Minutes, Plan};
use crate::follow_up::event::LookKind;
use crate::follow_up::state::{Course, Look, LookStatus, Outcome, Phase, Sitting, Standing};
use crate::follow_up::trend::{self, Point};
use crate::follow_up::{Entry, Event, Instant, SittingNumber, State, StepNumber};
use crate::notice::wording::Wording;

/// The course of one follow-up.
#[derive(Clone, Debug)]
pub(in super::super) struct History {
    /// In the order in which they happened.
    pub(super) columns: Vec<Column>,
    /// The longest that a mark may last.
    pub(super) limit: Minutes,
    /// The longest fade that still counts.
    pub(super) slow: Minutes,
    /// The fade time to expect at the next step (R19).
    pub(super) expected: Option<Expected>,
}

/// One column.
#[derive(Clone, Debug)]
pub(super) struct Column {
    /// When it happened.
    pub(super) at: Instant,
    pub(super) what: What,
}

/// What a column shows.
#[derive(Clone, Debug)]
pub(super) enum What {
    Sitting(Sat),
    /// A routine look at which a mark was seen, or that nobody answered.
    Routine {
        fade: Option<Fade>,
        missed: bool,
    },
    Sign(Sign),
}

/// A sitting.
#[derive(Clone, Debug)]
pub(super) struct Sat {
    pub(super) number: SittingNumber,
    pub(super) step: StepNumber,
    /// As planned.
    pub(super) planned: Minutes,
    /// Until a mark or a stop ended it; as planned where nothing did.
    pub(super) sat: Minutes,
    pub(super) came_to: CameTo,
    pub(super) fade: Option<Fade>,
    /// Looks that nobody answered in time.
    pub(super) missed: u32,
    /// The fade time that the rules count (R6, R19).
    pub(super) counts_as: Option<Minutes>,
}

/// What a sitting came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum CameTo {
    /// It counted toward the next step.
    Credit,
    /// It ran to its end and did not count.
    NoCredit,
    /// A mark or a stop ended it before its time.
    CutShort,
    /// It did not take place.
    Cancelled,
    /// Its looks are still open.
    Open,
}

impl CameTo {
    /// Its name in the drawing's data.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Credit => "credit",
            Self::NoCredit => "no-credit",
            Self::CutShort => "cut-short",
            Self::Cancelled => "no-sitting",
            Self::Open => "open",
        }
    }
}

/// Something that changes how sitting goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Sign {
    /// Sitting is stopped.
    Stopped,
    /// Sitting is suspended.
    Suspended,
    /// The next step is put off.
    Held,
    /// The follow-up pauses.
    Paused,
    /// Sitting goes on after any of these.
    GoesOn,
    /// Another version of the plan is in force.
    Adopted,
    /// The build-up is complete.
    Routine,
    /// The follow-up has ended.
    Closed,
}

/// A projected fade time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Expected {
    /// The next step.
    pub(super) step: StepNumber,
    /// Its sitting time.
    pub(super) sit: Minutes,
    /// The fade time to expect, in tenths of a minute.
    pub(super) tenths: i64,
}

impl History {
    /// The course, from the journal and the state that it adds up to.
    pub(in super::super) fn of(state: &State, plan: &Plan, entries: &[Entry]) -> Self {
        let limit = plan.looks.fade_limit;
        let ended = ends(entries);
        let sat = state.sittings().map(|sitting| Column {
            at: sitting.start,
            what: What::Sitting(sat(state, sitting, &ended, limit)),
        });
        let routine = state.looks().filter_map(|look| routine(state, look, limit));
        let signs = entries
            .iter()
            .filter_map(|entry| Some(Column { at: entry.at, what: What::Sign(sign(entry)?) }));
        let mut columns: Vec<Column> = sat.chain(routine).chain(signs).collect();
        columns.sort_by_key(|column| column.at);
        Self { columns, limit, slow: plan.looks.slow_fade, expected: expected(state, plan) }
    }

    /// That only the last sittings are shown, where the shown columns are not all.
    pub(super) fn cut(&self, shown: &[Column], w: &Wording) -> Option<String> {
        let sittings = |columns: &[Column]| {
            let count = columns.iter().filter(|column| matches!(column.what, What::Sitting(_)));
            u32::try_from(count.count()).unwrap_or(u32::MAX)
        };
        let all = w.counted("count.sittings", sittings(&self.columns));
        (shown.len() < self.columns.len()).then(|| w.picture_shown(&sittings(shown), &all))
    }

    /// The last columns, at most so many; everything where there are fewer.
    pub(super) fn last(&self, most: usize) -> &[Column] {
        &self.columns[self.columns.len().saturating_sub(most)..]
    }
}

/// When a mark or a stop ended each sitting that it cut short.
fn ends(entries: &[Entry]) -> BTreeMap<SittingNumber, Instant> {
    let mut ends = BTreeMap::new();
    let mut last = None;
    for entry in entries {
        match &entry.event {
            Event::Sitting { sitting, .. } => last = Some(*sitting),
            Event::SittingEnded { sitting, cut_short: true } => {
                ends.entry(*sitting).or_insert(entry.at);
            }
            Event::Stopped { .. } | Event::Closed { .. } => {
                if let Some(sitting) = last {
                    ends.entry(sitting).or_insert(entry.at);
                }
            }
            _ => {}
        }
    }
    ends
}

fn sat(
    state: &State,
    sitting: &Sitting,
    ended: &BTreeMap<SittingNumber, Instant>,
    limit: Minutes,
) -> Sat {
    let looks = || sitting.looks.iter().map(|id| state.look(*id));
    let firsts = || looks().filter(|look| look.kind == LookKind::First);
    let missed = firsts().filter(|look| look.status == LookStatus::Missed).count();
    let fade = firsts()
        .filter_map(|look| Fade::of(look, state, limit))
        .max_by_key(|fade| fade.rank())
        .filter(|fade| missed == 0 || *fade != Fade::Clear);
    let until = ended.get(&sitting.number).map(|at| (*at - sitting.start).num_minutes());
    let sat = until.and_then(|until| u32::try_from(until).ok()).map(Minutes::new);
    let sat = sat.map_or(sitting.sit, |sat| sat.min(sitting.sit));
    let came_to = match (sitting.course, sitting.outcome) {
        (Course::Cancelled, _) => CameTo::Cancelled,
        _ if sat < sitting.sit => CameTo::CutShort,
        (_, Some(Outcome::Credit { .. })) => CameTo::Credit,
        (_, Some(Outcome::NoCredit { .. })) | (Course::Stopped, _) => CameTo::NoCredit,
        _ if sitting.settled => CameTo::NoCredit,
        _ => CameTo::Open,
    };
    Sat {
        number: sitting.number,
        step: sitting.step,
        planned: sitting.sit,
        sat: if came_to == CameTo::Cancelled { Minutes::ZERO } else { sat },
        came_to,
        fade,
        missed: u32::try_from(missed).unwrap_or(u32::MAX),
        counts_as: sitting.point,
    }
}

/// A routine look with news; one that was clear has none.
fn routine(state: &State, look: &Look, limit: Minutes) -> Option<Column> {
    if look.kind != LookKind::Routine {
        return None;
    }
    let missed = look.status == LookStatus::Missed;
    let fade = Fade::of(look, state, limit).filter(|fade| *fade != Fade::Clear);
    let news = missed || fade.is_some();
    news.then_some(Column { at: look.due, what: What::Routine { fade, missed } })
}

fn sign(entry: &Entry) -> Option<Sign> {
    match &entry.event {
        Event::Stopped { .. } => Some(Sign::Stopped),
        Event::Suspended => Some(Sign::Suspended),
        Event::Held { .. } => Some(Sign::Held),
        Event::Paused { .. } => Some(Sign::Paused),
        Event::Resumed { .. } | Event::Unsuspended | Event::Unpaused { .. } => Some(Sign::GoesOn),
        Event::PlanAdopted { .. } => Some(Sign::Adopted),
        Event::Routine { .. } => Some(Sign::Routine),
        Event::Closed { .. } => Some(Sign::Closed),
        _ => None,
    }
}

/// R19, while sitting goes on or may go on of itself: once it is stopped there is no next step.
fn expected(state: &State, plan: &Plan) -> Option<Expected> {
    if matches!(state.standing, Standing::Stopped { .. } | Standing::Closed) {
        return None;
    }
    let Phase::BuildUp { step } = state.phase else { return None };
    let next = plan.ladder(&state.terms.risk)?.steps.get(step.count() as usize)?;
    let points: Vec<Point> = state
        .sittings()
        .filter_map(|sitting| {
            Some(Point { sat: sitting.sit.count(), fade: sitting.point?.count() })
        })
        .collect();
    let exact = trend::expected_fade(&points, next.sit.count())?;
    let step = StepNumber::new(step.count() + 1);
    Some(Expected { step, sit: next.sit, tenths: trend::tenths(exact) })
}
