//! What an alert, or news about marks, says of the fitting and of what to examine first.
//!
//! Never here: the lines themselves (`review`), the mail (`notice`).
//! Promises: whatever is wrong with a kept fitting, the mail goes out; it then says less.

use super::office::Office;
use crate::care::{Finding, Fitting, Site};
use crate::follow_up::event::{AlertCause, Event, StopReason, TellReason};
use crate::follow_up::state::{Sitting, Standing};
use crate::follow_up::{Instant, State};
use crate::notice;
use crate::review::{LineSource, Question, Seen, SitesHad, Tested, fitting_lines};
use crate::store::{FollowUpId, KeptFitting, View};

/// Lines for an alert or for news about marks, in the reader's language.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ReviewLines {
    /// The fitting in three lines; empty where none is on file.
    pub fitting: Vec<String>,
    /// What to examine first, each line with what it rests on.
    pub guide: Vec<String>,
}

/// The lines that go with an event; none but alerts and news about marks have any.
pub fn review_lines(
    office: &Office,
    view: &View<'_>,
    follow_up: FollowUpId,
    event: &Event,
    state: &State,
) -> ReviewLines {
    let to = match event {
        Event::Alerted { to, .. } => to,
        Event::ClinicTold { to, why, .. } if is_about_marks(*why) => to,
        _ => return ReviewLines::default(),
    };
    // The reason may quote the record, which holds names: it stays out of the log.
    let kept = view.fitting(follow_up).unwrap_or_else(|_| {
        tracing::error!(%follow_up, "the fitting cannot be read; the mail goes without it");
        None
    });
    let language = office.clinicians.get(to).map_or("", |person| person.language());
    let fitting = kept.as_ref().map_or_else(Vec::new, |kept| three_lines(office, kept, language));
    let fitted = kept.as_ref().map(|kept| &kept.fitting);
    let question = match event {
        Event::Alerted { cause, .. } => question(*cause, state, fitted),
        _ => question_about_marks(state, fitted),
    };
    let guide = question.map_or_else(Vec::new, |question| proposals(office, &question, language));
    ReviewLines { fitting, guide }
}

/// A kept fitting in three lines.
pub fn three_lines(office: &Office, kept: &KeptFitting, language: &str) -> Vec<String> {
    let KeptFitting { version, fitting, in_spite_of, .. } = kept;
    let tested = Tested { fitting, version, in_spite_of: in_spite_of.is_some() };
    let wording = office.languages.wording(language);
    fitting_lines(tested, office.fitting_words.of(language), &|sites: &[Site]| wording.sites(sites))
}

/// What to examine, each line with what it rests on.
pub fn proposals(office: &Office, question: &Question<'_>, language: &str) -> Vec<String> {
    let words = office.fitting_words.of(language);
    let proposals = office.guide.proposals(question);
    proposals
        .iter()
        .map(|proposal| {
            let source = match &proposal.line.source {
                LineSource::CommonPractice => None,
                LineSource::Published(source) => Some(source.as_str()),
            };
            words.with_source(proposal.line.text(language), source)
        })
        .collect()
}

/// Whether what is told is about marks that the guide has something to say on. A correction or a
/// late report may be of any kind, and says what stands.
fn is_about_marks(why: TellReason) -> bool {
    match why {
        TellReason::RepeatMarks | TellReason::Rising | TellReason::Projection => true,
        TellReason::Correction
        | TellReason::LateReport
        | TellReason::Missed
        | TellReason::Unclear
        | TellReason::Suspended => false,
    }
}

/// What the guide is asked about marks that come and go; none where no mark stands.
fn question_about_marks<'a>(
    state: &'a State,
    fitting: Option<&'a Fitting>,
) -> Option<Question<'a>> {
    let found = state.looks().filter_map(|look| look.found.as_ref());
    let marks = found.filter(|found| found.finding != Finding::Clear && !found.sites.is_empty());
    let newest = marks.max_by_key(|found| found.said_at)?;
    let seen = if newest.finding == Finding::Faded { Seen::Faded } else { Seen::Marked };
    let is_now = |sitting: &Sitting| {
        let mut found = sitting.looks.iter().filter_map(|id| state.look(*id).found.as_ref());
        found.any(|found| found.said_at == newest.said_at)
    };
    Some(Question { sites: &newest.sites, seen, before: had_before(state, is_now), fitting })
}

/// What the guide is asked about an alert; none where there is no finding to ask about.
pub fn question<'a>(
    cause: AlertCause,
    state: &'a State,
    fitting: Option<&'a Fitting>,
) -> Option<Question<'a>> {
    let (seen, sites) = match cause {
        AlertCause::NobodyReachable => return None,
        AlertCause::AlarmingAgain => (Seen::Alarming, newest_sites(state)),
        AlertCause::Stop => {
            let (why, sites) = notice::stop_cause(state)?;
            let seen = match why {
                StopReason::Persisting => Seen::Persisting,
                StopReason::Alarming => Seen::Alarming,
                StopReason::RecheckUnreported => Seen::Unreported,
                StopReason::Clinician => return None,
            };
            (seen, sites)
        }
    };
    let since = match state.standing {
        Standing::Stopped { since, .. } => Some(since),
        _ => None,
    };
    let is_now = |sitting: &Sitting| ended_at(state, sitting, since);
    Some(Question { sites, seen, before: had_before(state, is_now), fitting })
}

fn newest_sites(state: &State) -> &[Site] {
    let found = state.looks().filter_map(|look| look.found.as_ref());
    found.max_by_key(|found| found.said_at).map_or(&[], |found| &found.sites)
}

/// What the sittings before the one that is asked about have shown.
fn had_before(state: &State, is_now: impl Fn(&Sitting) -> bool) -> SitesHad {
    let before: Vec<&Sitting> = state.sittings().filter(|sitting| !is_now(sitting)).collect();
    SitesHad {
        marked: before.iter().flat_map(|sitting| sitting.named.iter().copied()).collect(),
        fades: before
            .iter()
            .filter_map(|sitting| sitting.point.map(|fade| (sitting.sit, fade)))
            .collect(),
    }
}

/// Whether a look of the sitting led to the stop, or was ended by it.
fn ended_at(state: &State, sitting: &Sitting, since: Option<Instant>) -> bool {
    since.is_some()
        && sitting.looks.iter().map(|id| state.look(*id)).any(|look| {
            let said_at = look.found.as_ref().map(|found| found.said_at);
            look.settled_at == since || said_at == since
        })
}
