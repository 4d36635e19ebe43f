//! How a follow-up stands, in the few facts that lists, outcomes and pages show.
//!
//! Never here: SQL, tables, pages.
//! Promises: every fact is the state's own; what is stopped is never shown as going on.

use std::sync::Arc;

use serde::Serialize;

use super::moments::{clock, moment, stamp, time_of_day};
use crate::care::{ClientRef, ClinicianId, Ladder, Plan};
use crate::follow_up::event::LookKind;
use crate::follow_up::state::{LookStatus, Phase, Standing};
use crate::follow_up::{Basis, Due, Instant, State};
use crate::service::{Office, ServiceError, covering};
use crate::store::{FollowUpId, View};

/// A follow-up as it stands.
#[derive(Clone, Debug)]
pub(crate) struct Stand {
    pub(crate) client: ClientRef,
    pub(crate) state: State,
    pub(crate) plan: Arc<Plan>,
    /// Who is on cover for the client, in calling order.
    pub(crate) cover: Vec<ClinicianId>,
    pub(crate) next: Option<(Instant, Due)>,
}

/// What somebody waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Waiting {
    /// An alert that nobody has taken up.
    Clinician,
    /// A stop that nobody has decided about.
    Decision,
    /// An answer to a look.
    Answer,
    /// A mark whose recheck has not been asked yet.
    Mark,
    /// Any look, so that sitting may go on.
    AnyLook,
    /// The end of a pause.
    EndOfPause,
}

/// The facts as programs read them.
#[derive(Debug, Serialize)]
pub(crate) struct StandJson {
    client: String,
    standing: &'static str,
    /// None in the routine phase.
    step: Option<u32>,
    steps: usize,
    sit_minutes: Option<u32>,
    run: u32,
    clear_to_advance: Option<u32>,
    next_due: Option<String>,
    next: Option<String>,
    alert: &'static str,
    waiting_for: Option<&'static str>,
    waiting_since: Option<String>,
    time_zone: String,
    plan: String,
}

impl Stand {
    /// Loads a follow-up as it stands now.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(crate) fn load(
        office: &Office,
        view: &View<'_>,
        follow_up: FollowUpId,
        now: Instant,
    ) -> Result<Self, ServiceError> {
        let loaded = view.load(follow_up)?;
        let plan = office.plan(view, &loaded.plan)?;
        let cover = covering::cover(office, view, &loaded.state, now)?;
        Ok(Self::of(loaded.client, loaded.state, plan, cover))
    }

    /// A follow-up in a state.
    pub(crate) fn of(
        client: ClientRef,
        state: State,
        plan: Arc<Plan>,
        cover: Vec<ClinicianId>,
    ) -> Self {
        let next = state.coming(&Basis { plan: &plan, cover: &cover });
        Self { client, state, plan, cover, next }
    }

    pub(crate) fn ladder(&self) -> Option<&Ladder> {
        self.plan.ladder(&self.state.terms.risk)
    }

    /// The standing in one word, loud where nobody may sit.
    pub(crate) fn standing(&self) -> &'static str {
        match self.state.standing {
            Standing::Open => "open",
            Standing::Suspended => "suspended",
            Standing::Paused { .. } => "paused",
            Standing::Stopped { .. } => "STOPPED",
            Standing::Closed => "closed",
        }
    }

    /// `2 of 5, 30min`, or `routine`.
    pub(crate) fn step(&self) -> String {
        let steps = self.ladder().map_or(0, |ladder| ladder.steps.len());
        match self.state.phase {
            Phase::Routine { .. } => "routine".to_owned(),
            Phase::BuildUp { step } => {
                let sit = self.plan_step().map(|step| format!(", {}", step.sit));
                format!("{step} of {steps}{}", sit.unwrap_or_default())
            }
        }
    }

    pub(crate) fn plan_step(&self) -> Option<&crate::care::Step> {
        let step = self.state.step()?;
        self.ladder()?.steps.get(step.count().checked_sub(1)? as usize)
    }

    /// `2 of 4`; none in the routine phase.
    pub(crate) fn run(&self) -> Option<String> {
        let needed = self.plan_step()?.clear_to_advance;
        Some(format!("{} of {needed}", self.state.run.credits))
    }

    pub(crate) fn alert(&self) -> &'static str {
        match &self.state.alert {
            None => "none",
            Some(alert) if alert.acknowledged.is_some() => "acknowledged",
            Some(_) => "open",
        }
    }

    /// What somebody waits for, the most pressing first, and since when.
    pub(crate) fn waiting(&self) -> Option<(Waiting, Instant)> {
        let state = &self.state;
        if let Some(alert) = &state.alert {
            let waits = alert.acknowledged.is_none();
            let what = if waits { Waiting::Clinician } else { Waiting::Decision };
            return Some((what, alert.raised_at));
        }
        if let Standing::Stopped { since, .. } = state.standing {
            return Some((Waiting::Decision, since));
        }
        let asked = state
            .unsettled_looks()
            .filter(|look| look.status == LookStatus::Open)
            .filter_map(|look| look.clock.as_ref())
            .map(|clock| clock.first_asked);
        if let Some(since) = asked.min() {
            return Some((Waiting::Answer, since));
        }
        let mark = state
            .unsettled_looks()
            .filter(|look| look.kind == LookKind::Recheck && look.status == LookStatus::Planned)
            .filter_map(|look| state.look(look.of?).found.as_ref())
            .map(|found| found.looked_at);
        if let Some(since) = mark.min() {
            return Some((Waiting::Mark, since));
        }
        if let Standing::Paused { since, .. } = state.standing {
            return Some((Waiting::EndOfPause, since));
        }
        if state.is_suspended() {
            let missed = state.looks().filter(|look| look.status == LookStatus::Missed);
            return missed
                .filter_map(|look| look.settled_at)
                .max()
                .map(|at| (Waiting::AnyLook, at));
        }
        None
    }

    /// Stopped first, then unanswered, then marks that wait, then by what is due next; what has
    /// ended last.
    pub(crate) fn order(&self) -> impl Ord + use<> {
        let rank = match (&self.state.standing, self.waiting()) {
            (Standing::Closed, _) => 9,
            (_, Some((Waiting::Clinician, _))) => 0,
            (Standing::Stopped { .. }, _) => 1,
            (_, Some((Waiting::Decision, _))) => 2,
            (_, Some((Waiting::Answer, _))) => 3,
            (_, Some((Waiting::Mark, _))) => 4,
            (Standing::Suspended, _) => 5,
            (Standing::Open, _) => 6,
            (Standing::Paused { .. }, _) => 7,
        };
        let since = self.waiting().map(|(_, since)| since);
        let next = self.next.map_or(Instant::MAX_UTC, |(at, _)| at);
        (rank, since.unwrap_or(next), self.client.to_string())
    }

    /// What is due next, in words.
    pub(crate) fn next_in_words(&self) -> Option<String> {
        self.next.map(|(_, due)| self.due_in_words(due))
    }

    fn due_in_words(&self, due: Due) -> String {
        let look = |id| match self.state.look(id).kind {
            LookKind::First => "a look",
            LookKind::Recheck => "the second look at a mark",
            LookKind::Routine => "a routine look",
        };
        match due {
            Due::Miss(id) => format!("{} counts as missed", look(id)),
            Due::RecheckUnreported(_) => "a stop: nobody reported on a mark".to_owned(),
            Due::AskAgain(id) => format!("{} is asked again", look(id)),
            Due::Alert => "the alert goes out again".to_owned(),
            Due::Midnight(_) => "midnight decides about the next step".to_owned(),
            Due::Review(day) => format!("review, day {day} of the routine phase"),
            Due::RoutineLook(_) => "a routine look".to_owned(),
            Due::AskFirst(id) => {
                let of =
                    self.state.look(id).sitting.map(|sitting| format!(" of sitting {sitting}"));
                format!("{}{}", look(id), of.unwrap_or_default())
            }
            Due::Sitting(slot) => {
                let sit = self.plan_step().map(|step| format!(", {}", step.sit));
                let at = time_of_day(slot.time);
                format!("the sitting of {at}{}", sit.unwrap_or_default())
            }
        }
    }

    /// One line: how it stands now.
    pub(crate) fn in_a_line(&self) -> String {
        let zone = &self.state.terms.zone;
        let mut line = format!("now: {}, step {}", self.standing(), self.step());
        if let Some(run) = self.run() {
            line.push_str(&format!(", run {run}"));
        }
        if let (Some((at, _)), Some(what)) = (self.next, self.next_in_words()) {
            line.push_str(&format!("; next {}: {what}", moment(zone, at)));
        }
        line
    }

    pub(crate) fn json(&self) -> StandJson {
        let zone = &self.state.terms.zone;
        let waiting = self.waiting();
        StandJson {
            client: self.client.to_string(),
            standing: match self.state.standing {
                Standing::Stopped { .. } => "stopped",
                _ => self.standing(),
            },
            step: self.state.step().map(crate::follow_up::StepNumber::count),
            steps: self.ladder().map_or(0, |ladder| ladder.steps.len()),
            sit_minutes: self.plan_step().map(|step| step.sit.count()),
            run: self.state.run.credits,
            clear_to_advance: self.plan_step().map(|step| step.clear_to_advance),
            next_due: self.next.map(|(at, _)| stamp(zone, at)),
            next: self.next_in_words(),
            alert: self.alert(),
            waiting_for: waiting.map(|(what, _)| what.name()),
            waiting_since: waiting.map(|(_, since)| stamp(zone, since)),
            time_zone: zone.zone_name().to_owned(),
            plan: self.state.terms.plan.as_str().to_owned(),
        }
    }

    /// `answer since 11:15`, with the day where it is another than today's.
    pub(crate) fn waiting_in_words(&self, now: Instant) -> Option<String> {
        let zone = &self.state.terms.zone;
        let (what, since) = self.waiting()?;
        let at = if zone.date(since) == zone.date(now) {
            clock(zone, since)
        } else {
            moment(zone, since)
        };
        Some(format!("{} since {at}", what.name()))
    }
}

impl Waiting {
    /// What is waited for, in one word.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Clinician => "clinician",
            Self::Decision => "decision",
            Self::Answer => "answer",
            Self::Mark => "mark",
            Self::AnyLook => "look",
            Self::EndOfPause => "end of pause",
        }
    }
}
