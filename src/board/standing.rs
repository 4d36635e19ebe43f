//! How a follow-up stands on the board: in which group, how long it has waited, what is to be done.
//!
//! Never here: reading the data, HTML.
//! Promises: the groups are ordered by who needs somebody most; a follow-up is in the first that
//! fits, and in one only; every state has a word and a sign, so that nothing hangs on colour.

use chrono::TimeDelta;

use crate::follow_up::event::LookKind;
use crate::follow_up::state::{Look, LookStatus, Standing};
use crate::follow_up::{Instant, State};
use crate::overview::moments::{clock, lasted, moment};
use crate::overview::standing::Stand;
use crate::rehearsal::phrases::alert_cause;

/// Where a follow-up stands, the most pressing first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Group {
    /// Nobody may sit, or an alert is not decided.
    Stopped,
    /// Asked, and nobody answered in the first wait; or suspended after missed looks.
    Overdue,
    /// A mark is to be looked at again.
    Recheck,
    /// Asked, and an answer may still come in time.
    Due,
    /// Nothing is open.
    Quiet,
    /// Paused.
    Paused,
    /// Ended.
    Ended,
}

impl Group {
    pub(super) const ALL: [Self; 7] = [
        Self::Stopped,
        Self::Overdue,
        Self::Recheck,
        Self::Due,
        Self::Quiet,
        Self::Paused,
        Self::Ended,
    ];

    /// Its name in a list of addresses and styles.
    pub(super) fn key(self) -> &'static str {
        match self {
            Self::Stopped => "stopped",
            Self::Overdue => "overdue",
            Self::Recheck => "recheck",
            Self::Due => "due",
            Self::Quiet => "quiet",
            Self::Paused => "paused",
            Self::Ended => "ended",
        }
    }

    /// Its name for people.
    pub(super) fn title(self) -> &'static str {
        match self {
            Self::Stopped => "Stopped",
            Self::Overdue => "Overdue",
            Self::Recheck => "A mark is looked at again",
            Self::Due => "Asked, answer not due yet",
            Self::Quiet => "Nothing open",
            Self::Paused => "Paused",
            Self::Ended => "Ended",
        }
    }

    /// The word beside each follow-up of it.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Stopped => "stopped",
            Self::Overdue => "overdue",
            Self::Recheck => "mark",
            Self::Due => "asked",
            Self::Quiet => "nothing open",
            Self::Paused => "paused",
            Self::Ended => "ended",
        }
    }

    /// The outline of its sign, on a square of 20 units: each group has a form of its own.
    pub(super) fn sign(self) -> &'static str {
        match self {
            // A seat with a bar across.
            Self::Stopped => "M3 3h14v14H3zM5.5 8.5h9v3h-9z",
            // An hourglass that has run out.
            Self::Overdue => "M4 2h12L11.5 10L16 18H4L8.5 10zM7 16h6l-3-4z",
            // A ring: look here again.
            Self::Recheck => "M10 2a8 8 0 100 16a8 8 0 100-16zM10 6a4 4 0 110 8a4 4 0 110-8z",
            // A letter on its way.
            Self::Due => "M2 4.5h16v11H2zM4 6.5l6 4.5l6-4.5z",
            // A low line: all flat.
            Self::Quiet => "M3 9h14v2.5H3z",
            // A leaf laid between pages.
            Self::Paused => "M5 3h3.5v14H5zM11.5 3H15v14h-3.5z",
            // A folded corner.
            Self::Ended => "M4 2h8l4 4v12H4zM11 3.5V7h3.5z",
        }
    }
}

/// A follow-up as the board shows it.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) client: String,
    pub(super) call_name: String,
    pub(super) group: Group,
    /// `2 of 5, 30min`.
    pub(super) step: String,
    /// How long it has waited, where somebody waits.
    pub(super) waited: Option<String>,
    /// Since when, by the client's clock.
    pub(super) since: Option<String>,
    /// What is to be done.
    pub(super) task: String,
    /// Whose clock the times are by, where it is not the clinic's.
    pub(super) abroad: Option<String>,
    /// Whether an alert waits to be taken up.
    pub(super) is_untaken: bool,
    since_at: Instant,
}

impl Row {
    /// `clinic_zone` is the name of the clinic's own zone.
    pub(super) fn of(
        stand: &Stand,
        call_name: Option<String>,
        (clinic_zone, now): (&str, Instant),
    ) -> Self {
        let group = group(stand, now);
        let since_at = since(stand, group, now);
        let zone = &stand.state.terms.zone;
        let shown = |at| {
            if zone.date(at) == zone.date(now) { clock(zone, at) } else { moment(zone, at) }
        };
        Self {
            client: stand.client.to_string(),
            call_name: call_name.unwrap_or_default(),
            group,
            step: stand.step(),
            waited: since_at.map(|at| lasted(at, now).to_string()),
            since: since_at.map(shown),
            task: task(stand, group, now),
            abroad: Some(zone.zone_name().to_owned()).filter(|zone| zone != clinic_zone),
            is_untaken: stand.alert() == "open",
            since_at: since_at.or(stand.next.map(|(at, _)| at)).unwrap_or(Instant::MAX_UTC),
        }
    }

    /// The most pressing first, then who has waited longest, then whose turn comes next.
    pub(super) fn order(&self) -> impl Ord + use<> {
        (self.group, !self.is_untaken, self.since_at, self.client.clone())
    }
}

/// The group that a follow-up is in.
pub(super) fn group(stand: &Stand, now: Instant) -> Group {
    let state = &stand.state;
    if state.is_closed() {
        return Group::Ended;
    }
    if state.is_stopped() || state.alert.is_some() {
        return Group::Stopped;
    }
    if state.is_suspended() || overdue(stand, now).is_some() {
        return Group::Overdue;
    }
    if marks(state).next().is_some() {
        return Group::Recheck;
    }
    if state.is_paused() {
        return Group::Paused;
    }
    if asked(state).next().is_some() { Group::Due } else { Group::Quiet }
}

fn since(stand: &Stand, group: Group, now: Instant) -> Option<Instant> {
    let state = &stand.state;
    match group {
        Group::Stopped => match (&state.alert, &state.standing) {
            (Some(alert), _) => Some(alert.raised_at),
            (None, Standing::Stopped { since, .. }) => Some(*since),
            _ => None,
        },
        Group::Overdue => {
            let missed = state.looks().filter(|look| look.status == LookStatus::Missed);
            overdue(stand, now).or(missed.filter_map(|look| look.settled_at).max())
        }
        Group::Recheck => marks(state)
            .filter_map(|look| state.look(look.of?).found.as_ref())
            .map(|found| found.looked_at)
            .min(),
        Group::Due => asked(state).map(|(_, since)| since).min(),
        Group::Paused => match state.standing {
            Standing::Paused { since, .. } => Some(since),
            _ => None,
        },
        Group::Quiet | Group::Ended => None,
    }
}

/// Since when a look has waited for an answer beyond its first wait.
fn overdue(stand: &Stand, now: Instant) -> Option<Instant> {
    let wait: TimeDelta = stand.plan.looks.answer_within.elapsed();
    asked(&stand.state).map(|(_, since)| since).filter(|since| now - *since > wait).min()
}

/// Looks that were asked and not answered, with since when.
fn asked(state: &State) -> impl Iterator<Item = (&Look, Instant)> {
    state.unsettled_looks().filter_map(|look| Some((look, look.clock.as_ref()?.first_asked)))
}

/// Second looks at a mark that are not answered.
fn marks(state: &State) -> impl Iterator<Item = &Look> {
    state.unsettled_looks().filter(|look| look.kind == LookKind::Recheck)
}

fn task(stand: &Stand, group: Group, now: Instant) -> String {
    let (state, zone) = (&stand.state, &stand.state.terms.zone);
    let shown =
        |at| if zone.date(at) == zone.date(now) { clock(zone, at) } else { moment(zone, at) };
    match group {
        Group::Stopped => match &state.alert {
            Some(alert) if alert.acknowledged.is_none() => {
                format!("Take it up: {}. It goes to {}.", alert_cause(alert.cause), alert.holder)
            }
            Some(alert) => {
                let by = alert.acknowledged.as_ref().map(|(by, _)| format!(", {by} has it"));
                let cause = alert_cause(alert.cause);
                format!("Decide: {cause}{}.", by.unwrap_or_default())
            }
            None => "Decide whether sitting may begin again.".to_owned(),
        },
        Group::Overdue if overdue(stand, now).is_none() => {
            "Ring: sitting waits until somebody looks and answers.".to_owned()
        }
        Group::Overdue => {
            let over =
                asked(state).filter_map(|(look, _)| look.clock.as_ref()).min_by_key(|c| c.over_at);
            over.map_or_else(String::new, |clock| {
                format!(
                    "Ring {}: without an answer it counts as missed at {}.",
                    clock.asking,
                    shown(clock.over_at)
                )
            })
        }
        Group::Recheck => {
            let at = marks(state).map(|look| (look.due, look.clock.is_some())).min();
            at.map_or_else(String::new, |(due, is_asked)| {
                let asked = if is_asked { "was asked" } else { "is asked" };
                format!("The second look {asked} at {}. Until then, off the seat.", shown(due))
            })
        }
        Group::Due => {
            let until = asked(state).filter_map(|(look, _)| look.clock.as_ref()?.wait_until).min();
            until.map_or_else(
                || "An answer is awaited.".to_owned(),
                |until| format!("Nothing yet: an answer may come until {}.", shown(until)),
            )
        }
        Group::Quiet => match (stand.next, stand.next_in_words()) {
            (Some((at, _)), Some(what)) => format!("Next at {}: {what}.", shown(at)),
            _ => "Nothing is planned.".to_owned(),
        },
        Group::Paused => "End the pause when sitting may go on.".to_owned(),
        Group::Ended => "The record stays.".to_owned(),
    }
}
