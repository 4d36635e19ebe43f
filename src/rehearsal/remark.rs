//! One line for people about an entry of the journal: what was asked, said, decided, and by which
//! rule.
//!
//! Never here: when to show it, mail, the rules themselves.
//! Promises: whatever was asked of people, said by them or decided has its line; entries that only
//! keep state have none; the match names every event, so that a new one cannot be forgotten.

use std::collections::BTreeMap;

use crate::care::{Minutes, Plan, Reading, Site};
use crate::follow_up::event::{
    AlertCause, AlertSending, AsideReason, DropReason, LookKind, NoCreditReason, RequestClock,
    StopReason, TellDetail, TellReason,
};
use crate::follow_up::{Entry, Event, LookId, SittingNumber, State, StepNumber};
use crate::notice::Languages;

/// A line about an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// What happened, in one sentence without its end.
    pub text: String,
    /// The rule that it followed; empty for what people said and for the enrolment.
    pub rule: &'static str,
    /// How much it matters.
    pub weight: Weight,
}

/// How much a line matters to a reader who runs an eye down the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Weight {
    /// Everyday.
    Plain,
    /// A step forward.
    Forward,
    /// A stop, an alert, or nobody answering.
    Grave,
}

/// What lines are written with.
#[derive(Debug)]
pub struct Remarks<'a> {
    plan: &'a Plan,
    names: BTreeMap<String, String>,
    sites: BTreeMap<String, String>,
}

impl<'a> Remarks<'a> {
    /// Lines about follow-ups under a plan. `names` gives people's names by reference; whoever has
    /// none is called by the reference.
    pub fn new(plan: &'a Plan, names: BTreeMap<String, String>, languages: &Languages) -> Self {
        let texts = languages.wording("en").texts();
        let sites = texts.filter_map(|(key, text)| {
            key.strip_prefix("sites.").map(|site| (site.to_owned(), text.clone()))
        });
        Self { plan, sites: sites.collect(), names }
    }

    /// The line about an entry; `state` is the state with the entry applied. `words` are those of
    /// the reply that led to it, shown where the line is about the reply itself.
    pub fn of(&self, entry: &Entry, state: &State, words: Option<&str>) -> Option<Remark> {
        let (weight, mut text) = self.weighed(entry, state, words)?;
        if let (Some(words), false) = (words, matches!(entry.event, Event::Answered { .. })) {
            text = format!("“{}”: {text}", few(words));
        }
        let rule = match &entry.event {
            Event::Answered { .. } | Event::Enrolled { .. } => "",
            event => event.rule(),
        };
        Some(Remark { text, rule, weight })
    }

    fn weighed(
        &self,
        entry: &Entry,
        state: &State,
        words: Option<&str>,
    ) -> Option<(Weight, String)> {
        use Weight::{Forward, Grave, Plain};
        let clock = |at| state.terms.zone.local(at).format("%H:%M").to_string();
        Some(match &entry.event {
            Event::Enrolled { terms, .. } => {
                let begins = terms.begins.format("%-d %B");
                (Plain, format!("Enrolled at risk level {}; begins on {begins}", terms.risk))
            }
            Event::Sitting { sitting, step, minutes, to, .. } => {
                let (to, sit) = (self.name(to.as_str()), duration(*minutes));
                (Plain, format!("Sitting {sitting} starts: step {step}, {sit}; {to} is told"))
            }
            Event::Started { sitting, start } => {
                (Plain, format!("Sitting {sitting} began at {}", clock(*start)))
            }
            Event::TakenUp { sitting, .. } => {
                (Plain, format!("Sitting {sitting} is taken up again"))
            }
            Event::Dropped { why, slot, .. } => {
                let why = match why {
                    DropReason::Unsettled => "something is still unsettled",
                    DropReason::Resting => "the skin rests after a mark",
                    DropReason::Away => "the service was away",
                };
                (Plain, format!("No sitting at {}: {why}", slot.1.format("%H:%M")))
            }
            Event::LookPlanned { kind: LookKind::Recheck, due, .. } => {
                (Plain, format!("Off the seat; look again at {}", clock(*due)))
            }
            Event::Asked { look, kind, to, again, clock, .. } => {
                let asked =
                    Asked { look: *look, kind: *kind, to: to.as_str(), again: *again, clock };
                (Plain, self.asked(&asked, state))
            }
            Event::Unasked { by, .. } => {
                (Plain, format!("{} reports without being asked", self.name(by.as_str())))
            }
            Event::Answered { by, reading, sites, minutes, .. } => {
                let weight = match reading {
                    Reading::Marked | Reading::Persisting | Reading::Alarming => Grave,
                    _ => Plain,
                };
                (weight, self.answered(by.as_str(), *reading, sites, *minutes, words))
            }
            Event::SittingEnded { sitting, cut_short } => {
                let how = if *cut_short { " before its time" } else { "" };
                (Plain, format!("The mark ends sitting {sitting}{how}"))
            }
            Event::Reopened { sitting, .. } => {
                (Plain, format!("Sitting {sitting} is weighed anew"))
            }
            Event::Credit { sitting, run, .. } => (
                Forward,
                format!("Sitting {sitting} counts: {}", self.count(state, *sitting, *run)),
            ),
            Event::NoCredit { sitting, why, .. } => (Plain, no_credit(*sitting, *why)),
            Event::RunBroken => (Plain, "A slow fade: the count starts again".to_owned()),
            Event::Missed { kind, sitting, .. } => {
                let limit = duration(self.plan.looks.tell_clinic_after);
                let what = look_name(*kind, *sitting);
                (Grave, format!("Missed: nobody answered the {what} within {limit}"))
            }
            Event::RoutinePassed { slot, .. } => {
                let at = slot.1.format("%H:%M");
                (Grave, format!("The check of {at} was not asked: the service was away"))
            }
            Event::Suspended => (Grave, "No sitting until somebody looks and answers".to_owned()),
            Event::Unsuspended => (Forward, "Somebody looked: sitting goes on".to_owned()),
            Event::Advanced { step, .. } => {
                (Forward, format!("Next step: {}", self.step(state, *step)))
            }
            Event::Held { step, expect_tenths, .. } => {
                let (whole, tenth) = (expect_tenths / 10, expect_tenths % 10);
                let at =
                    format!("a mark would be expected to last {whole}.{tenth} min on the next");
                (Plain, format!("Held on step {step}: {at}; the count starts again"))
            }
            Event::Routine { .. } => {
                (Forward, "The build-up is complete: routine checks from now on".to_owned())
            }
            Event::Review { day } => (Plain, format!("A clinician's review is due: day {day}")),
            Event::Stopped { why, sites, .. } => {
                (Grave, format!("STOP: {}{}", stop_reason(*why), self.at_sites(sites)))
            }
            Event::ToldToStop { to } => {
                (Grave, format!("{} is told: keep off the seat", self.name(to.as_str())))
            }
            Event::Alerted { cause, sending, to, .. } => {
                (Grave, alerted(&self.name(to.as_str()), *cause, *sending))
            }
            Event::Acknowledged { by } => {
                (Plain, format!("{} takes the alert up", self.name(by.as_str())))
            }
            Event::Resumed { by, step } => {
                let (by, step) = (self.name(by.as_str()), self.step(state, *step));
                (Forward, format!("{by} lets sitting begin again: {step}"))
            }
            Event::KeptStopped { by } => {
                (Grave, format!("{} keeps sitting stopped", self.name(by.as_str())))
            }
            Event::Closed { by } => {
                (Plain, format!("{} closes the follow-up", self.name(by.as_str())))
            }
            Event::ClinicTold { why, to, detail } => {
                let told = self.told(*why, detail, state);
                (Plain, format!("{} is told: {told}", self.name(to.as_str())))
            }
            Event::SetAside { by, why } => {
                (Plain, format!("Set aside from {}: {}", self.name(by), aside_reason(*why)))
            }
            Event::Unreachable { contact } => {
                let name = self.name(contact.as_str());
                (Grave, format!("Mail to {name} fails for good; {name} is asked no more"))
            }
            Event::ContactsChanged { .. } => (Plain, "The clinic changes who is asked".to_owned()),
            Event::Awoke { away_since } => {
                (Grave, format!("The service was away since {}", clock(*away_since)))
            }
            Event::LookPlanned { .. }
            | Event::LookMoved { .. }
            | Event::LookWithdrawn { .. }
            | Event::RoutineDue { .. }
            | Event::Found { .. }
            | Event::NotUnderstood { .. }
            | Event::SitesNamed { .. }
            | Event::MidnightPassed { .. } => return None,
        })
    }

    fn asked(&self, asked: &Asked<'_>, state: &State) -> String {
        let to = self.name(asked.to);
        let look = state.look(asked.look);
        let what = match (asked.kind, look.sitting) {
            (LookKind::First, Some(number)) => {
                let sitting = state.sitting(number);
                let over = look.due - sitting.start >= sitting.sit.elapsed();
                let when = if over { "end" } else { "during" };
                format!("look at the skin ({when} of sitting {number})")
            }
            (LookKind::First, None) => "look at the skin".to_owned(),
            (LookKind::Recheck, _) => "look at the mark again".to_owned(),
            (LookKind::Routine, _) => "look at the skin (routine check)".to_owned(),
        };
        match (asked.clock, asked.again) {
            (RequestClock::Unchanged, _) => {
                format!("{to} is asked once more, with the choices spelled out")
            }
            (RequestClock::First { .. }, _) => format!("{to} is asked: {what}"),
            (RequestClock::Again { .. }, 0) => format!("{to} is asked instead: {what}"),
            (RequestClock::Again { .. }, again) => format!("{to} is reminded ({again}): {what}"),
        }
    }

    fn answered(
        &self,
        by: &str,
        reading: Reading,
        sites: &[Site],
        minutes: Option<Minutes>,
        words: Option<&str>,
    ) -> String {
        let by = self.name(by);
        let gone = minutes.map(|minutes| match reading {
            Reading::Faded => format!(" after {}", duration(minutes)),
            _ => format!(", {}", duration(minutes)),
        });
        let meant = format!(
            "{}{}{}",
            reading_words(reading),
            gone.unwrap_or_default(),
            self.at_sites(sites)
        );
        match words {
            Some(words) => format!("{by} writes: “{}” = {meant}", few(words)),
            None => format!("{by} answers: {meant}"),
        }
    }

    fn told(&self, why: TellReason, detail: &TellDetail, state: &State) -> String {
        match (why, detail) {
            (TellReason::RepeatMarks, TellDetail::RepeatedSites { sites, .. }) => {
                format!("the same place marked again{}", self.at_sites(sites))
            }
            (TellReason::Projection, TellDetail::Projection { expect_tenths, at_sit }) => format!(
                "{} of sitting would be expected to leave a mark for {}.{} min",
                duration(*at_sit),
                expect_tenths / 10,
                expect_tenths % 10
            ),
            (TellReason::Rising, TellDetail::Trend { points, .. }) => {
                format!("fade times are rising over {points} sittings of this step")
            }
            (TellReason::Missed, TellDetail::Look { look }) => {
                let look = state.look(*look);
                format!("nobody answered the {}", look_name(look.kind, look.sitting))
            }
            _ => tell_reason(why).to_owned(),
        }
    }

    fn count(&self, state: &State, sitting: SittingNumber, run: u32) -> String {
        let step = state.sitting(sitting).step;
        let of = self.ladder_step(state, step).map(|step| step.clear_to_advance);
        match of {
            Some(of) => format!("{run} of {of} in a row"),
            None => format!("{run} in a row"),
        }
    }

    fn step(&self, state: &State, step: StepNumber) -> String {
        match self.ladder_step(state, step) {
            Some(found) => format!("step {step}, {}", duration(found.sit)),
            None => format!("step {step}"),
        }
    }

    fn ladder_step(&self, state: &State, step: StepNumber) -> Option<&crate::care::Step> {
        let ladder = self.plan.ladder(&state.terms.risk)?;
        ladder.steps.get((step.count() as usize).checked_sub(1)?)
    }

    fn at_sites(&self, sites: &[Site]) -> String {
        let named: Vec<&str> = sites
            .iter()
            .map(|site| site.to_string())
            .filter_map(|id| self.sites.get(&id).map(String::as_str))
            .collect();
        if named.is_empty() { String::new() } else { format!(", {}", named.join(" and ")) }
    }

    fn name(&self, reference: &str) -> String {
        self.names.get(reference).map_or_else(|| reference.to_owned(), Clone::clone)
    }
}

/// Whether the line about an event is the one that shows the words of the reply behind it.
pub(super) fn shows_words(event: &Event) -> bool {
    matches!(
        event,
        Event::Answered { .. }
            | Event::Started { .. }
            | Event::TakenUp { .. }
            | Event::Acknowledged { .. }
            | Event::Resumed { .. }
            | Event::KeptStopped { .. }
            | Event::Closed { .. }
            | Event::SetAside { .. }
    )
}

/// A request, as its line needs it.
struct Asked<'e> {
    look: LookId,
    kind: LookKind,
    to: &'e str,
    again: u32,
    clock: &'e RequestClock,
}

/// The most of a reply's words that a line repeats, in characters.
const WORDS_CHARS_MAX: usize = 60;

/// The beginning of somebody's words, on one line.
fn few(words: &str) -> String {
    let line = words.split_whitespace().collect::<Vec<_>>().join(" ");
    match line.char_indices().nth(WORDS_CHARS_MAX) {
        Some((end, _)) => {
            let cut = line[..end].rfind(' ').unwrap_or(end);
            format!("{} …", &line[..cut])
        }
        None => line,
    }
}

/// A duration as people write it.
pub(super) fn duration(minutes: Minutes) -> String {
    match (minutes.count() / 60, minutes.count() % 60) {
        (0, rest) => format!("{rest} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, rest) => format!("{hours} h {rest} min"),
    }
}

fn look_name(kind: LookKind, sitting: Option<SittingNumber>) -> String {
    match (kind, sitting) {
        (LookKind::First, Some(number)) => format!("look of sitting {number}"),
        (LookKind::First, None) => "look".to_owned(),
        (LookKind::Recheck, _) => "second look at the mark".to_owned(),
        (LookKind::Routine, _) => "routine check".to_owned(),
    }
}

fn reading_words(reading: Reading) -> &'static str {
    match reading {
        Reading::Clear => "no marks",
        Reading::Marked => "a mark",
        Reading::Faded => "a mark that has gone",
        Reading::Persisting => "a mark that lasts",
        Reading::Alarming => "a sign for a clinician to see at once",
        Reading::NotLooked => "not looked yet",
        Reading::NoSitting => "no sitting took place",
        Reading::Started => "started",
        Reading::Unclear => "not safely understood",
        Reading::Automatic => "an automatic answer",
        Reading::Seen => "seen",
        Reading::Resume => "sitting may begin again",
        Reading::KeepStopped => "keep stopped",
        Reading::Close => "close",
    }
}

fn no_credit(sitting: SittingNumber, why: NoCreditReason) -> String {
    match why {
        NoCreditReason::NoSitting => {
            format!("Sitting {sitting} did not take place; the count stands")
        }
        NoCreditReason::Missed => {
            format!("Sitting {sitting} does not count: a look was missed; the count starts again")
        }
        NoCreditReason::SlowFade => {
            format!("Sitting {sitting} does not count: a slow fade; the count starts again")
        }
        NoCreditReason::CutShort => {
            format!("Sitting {sitting} does not count: cut short by a mark; the count starts again")
        }
    }
}

fn stop_reason(why: StopReason) -> &'static str {
    match why {
        StopReason::Persisting => "a mark has lasted",
        StopReason::Alarming => "an alarming sign",
        StopReason::RecheckUnreported => "nobody reported whether the mark has gone",
        StopReason::Clinician => "a clinician's decision",
    }
}

fn alerted(to: &str, cause: AlertCause, sending: AlertSending) -> String {
    let about = match cause {
        AlertCause::Stop => "sitting is stopped",
        AlertCause::AlarmingAgain => "an alarming sign while stopped",
        AlertCause::NobodyReachable => "nobody can be reached",
    };
    match sending {
        AlertSending::Raised => format!("ALERT to {to}: {about}; please take it up"),
        AlertSending::Repeated => format!("ALERT to {to} again: nobody has taken it up"),
        AlertSending::PassedOn => format!("ALERT passed on to {to}: nobody has taken it up"),
        AlertSending::BroughtBack => format!("ALERT to {to} again: taken up, but not decided"),
    }
}

fn tell_reason(why: TellReason) -> &'static str {
    match why {
        TellReason::Missed => "a look was not answered",
        TellReason::Unclear => "an answer could not be read safely",
        TellReason::RepeatMarks => "the same place marked again",
        TellReason::Rising => "fade times are rising",
        TellReason::Projection => "held on the step by the projected fade time",
        TellReason::Correction => "a report was corrected toward better",
        TellReason::LateReport => "a late report",
        TellReason::Suspended => "sitting is suspended",
    }
}

fn aside_reason(why: AsideReason) -> &'static str {
    match why {
        AsideReason::NotAsked => "nobody had asked",
        AsideReason::NoOpenAlert => "no alert is open",
        AsideReason::NothingStopped => "nothing is stopped",
        AsideReason::NoSuchStep => "the plan has no such step",
        AsideReason::DoesNotFit => "not theirs to say here",
        AsideReason::Closed => "the follow-up has ended",
    }
}
