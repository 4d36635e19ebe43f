//! One line for people about an entry of the journal: what was asked, said, decided, and by which
//! rule.
//!
//! Never here: when to show it, mail, the rules themselves.
//! Promises: whatever was asked of people, said by them or decided has its line; entries that only
//! keep state have none; the match names every event, so that a new one cannot be forgotten.

use std::collections::BTreeMap;

use super::phrases::*;
use crate::care::{ClinicianId, ContactId, Plan, Reading, Site, Step};
use crate::config::hours_in_words;
use crate::follow_up::event::{
    AsideReason, LookKind, RequestClock, StopReason, TellDetail, TellReason,
};
use crate::follow_up::{Entry, Event, Instant, LookId, SittingNumber, State, StepNumber};
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
        let (weight, text) = self.weighed(&entry.event, state, words)?;
        let rule = match &entry.event {
            Event::Answered { .. } | Event::Enrolled { .. } => "",
            event => event.rule(),
        };
        Some(Remark { text, rule, weight })
    }

    fn weighed(&self, event: &Event, state: &State, words: Option<&str>) -> Option<Weighed> {
        Some(match event {
            Event::Enrolled { terms, .. } => plain(enrolled(terms)),
            Event::Sitting { .. } => plain(self.sitting(event)?),
            Event::Started { sitting, start } => {
                plain(started(*sitting, &time(state, *start), words))
            }
            Event::TakenUp { sitting, .. } => plain(format!("Sitting {sitting} is taken up again")),
            Event::Dropped { why, slot, .. } => plain(dropped(*why, slot.1)),
            Event::LookPlanned { kind: LookKind::Recheck, due, .. } => {
                plain(format!("Off the seat; look again at {}", time(state, *due)))
            }
            Event::Asked { look, to, again, clock, .. } => {
                plain(self.asked(*look, to, *again, clock, state))
            }
            Event::Unasked { by, .. } => {
                plain(format!("{} reports unasked", self.name(by.as_str())))
            }
            Event::Answered { reading, .. } => (weight(*reading), self.answered(event, words)?),
            Event::SittingEnded { sitting, cut_short } => plain(ended(*sitting, *cut_short)),
            Event::Reopened { sitting, .. } => plain(format!("Sitting {sitting} is weighed anew")),
            Event::Credit { sitting, run, .. } => forward(self.credit(state, *sitting, *run)),
            Event::NoCredit { sitting, why, .. } => plain(no_credit(*sitting, *why)),
            Event::RunBroken => plain("A slow fade: the count starts again".to_owned()),
            Event::Missed { kind, sitting, .. } => grave(self.missed(*kind, *sitting)),
            Event::RoutinePassed { slot, .. } => grave(passed(slot.1)),
            Event::Suspended => grave("No sitting until somebody looks and answers".to_owned()),
            Event::Unsuspended => forward("Somebody looked: sitting goes on".to_owned()),
            Event::Advanced { step, .. } => forward(format!("Next: {}", self.step(state, *step))),
            Event::Held { step, expect_tenths, .. } => plain(held(*step, *expect_tenths)),
            Event::Routine { .. } => forward("The build-up is complete: routine checks".to_owned()),
            Event::Review { day } => plain(format!("A clinician's review is due: day {day}")),
            Event::Stopped { why, sites, .. } => grave(self.stopped(*why, sites)),
            Event::ToldToStop { to } => {
                grave(self.does(to.as_str(), None, "is told: off the seat"))
            }
            Event::Alerted { cause, sending, to, .. } => {
                grave(alerted(&self.name(to.as_str()), *cause, *sending))
            }
            Event::Acknowledged { by, .. } => {
                plain(self.does(by.as_str(), words, "takes the alert up"))
            }
            Event::Resumed { by, step } => forward(self.resumed(by.as_str(), words, state, *step)),
            Event::KeptStopped { by } => {
                grave(self.does(by.as_str(), words, "keeps sitting stopped"))
            }
            Event::Closed { by } => plain(self.does(by.as_str(), words, "closes the follow-up")),
            Event::ClinicTold { why, to, detail } => plain(self.told(*why, to, detail, state)),
            Event::SetAside { by, why } => plain(self.set_aside(by, *why, words)),
            Event::Unreachable { contact } => grave(self.unreachable(contact.as_str())),
            Event::PlanAdopted { by, plan, .. } => {
                plain(self.does(by.as_str(), words, &format!("adopts plan version {plan}")))
            }
            Event::Paused { by, .. } => {
                plain(self.does(by.as_str(), words, "pauses the follow-up"))
            }
            Event::Unpaused { by, .. } => plain(self.does(by.as_str(), words, "ends the pause")),
            Event::Fitted { date, .. } => plain(format!("The fitting of {date} is on file")),
            Event::ContactsChanged { .. } => plain("The clinic changes who is asked".to_owned()),
            Event::HoursSaid { contact, hours } => {
                let name = contact.as_str();
                plain(format!("From now on {name} is asked {}", hours_in_words(hours)))
            }
            Event::Awoke { away_since } => grave(awoke(&time(state, *away_since))),
            Event::ClockSetBack { .. } => grave("The machine's clock was set back".to_owned()),
            Event::LookPlanned { .. }
            | Event::LookMoved { .. }
            | Event::ReminderPutOff { .. }
            | Event::LookWithdrawn { .. }
            | Event::RoutineDue { .. }
            | Event::Found { .. }
            | Event::NotUnderstood { .. }
            | Event::SitesNamed { .. }
            | Event::MidnightPassed { .. } => return None,
        })
    }

    fn sitting(&self, event: &Event) -> Option<String> {
        let Event::Sitting { sitting, step, minutes, to, .. } = event else { return None };
        let (to, sit) = (self.name(to.as_str()), duration(*minutes));
        Some(format!("Sitting {sitting} starts: step {step}, {sit}; {to} is told"))
    }

    fn asked(
        &self,
        look: LookId,
        to: &ContactId,
        again: u32,
        clock: &RequestClock,
        state: &State,
    ) -> String {
        let to = self.name(to.as_str());
        let look = state.look(look);
        let what = match (look.kind, look.sitting) {
            (LookKind::First, Some(number)) => {
                let sitting = state.sitting(number);
                let over = look.due - sitting.start >= sitting.sit.elapsed();
                let when = if over { "end of" } else { "during" };
                format!("look at the skin ({when} sitting {number})")
            }
            (LookKind::First, None) => "look at the skin".to_owned(),
            (LookKind::Recheck, _) => "look at the mark again".to_owned(),
            (LookKind::Routine, _) => "look at the skin (routine check)".to_owned(),
        };
        match (clock, again) {
            (RequestClock::Unchanged, _) => {
                format!("{to} is asked once more, with the choices spelled out")
            }
            (RequestClock::First { .. }, _) => format!("{to} is asked: {what}"),
            (RequestClock::Again { .. }, 0) => format!("{to} is asked instead: {what}"),
            (RequestClock::Again { .. }, again) => format!("{to} is reminded ({again}): {what}"),
        }
    }

    fn answered(&self, event: &Event, words: Option<&str>) -> Option<String> {
        let Event::Answered { by, reading, sites, minutes, .. } = event else { return None };
        let by = self.name(by.as_str());
        let minutes = minutes.map_or_else(String::new, |minutes| match reading {
            Reading::Faded => format!(" after {}", duration(minutes)),
            _ => format!(", {}", duration(minutes)),
        });
        let meant = format!("{}{minutes}{}", reading_words(*reading), self.at_sites(sites));
        Some(match words {
            Some(words) => format!("{by} writes: “{}” → {meant}", few(words)),
            None => format!("{by} answers: {meant}"),
        })
    }

    fn credit(&self, state: &State, sitting: SittingNumber, run: u32) -> String {
        let step = state.sitting(sitting).step;
        let of = self.ladder_step(state, step).map(|step| step.clear_to_advance);
        let of = of.map_or_else(String::new, |of| format!(" of {of}"));
        format!("Sitting {sitting} counts: {run}{of} in a row")
    }

    fn missed(&self, kind: LookKind, sitting: Option<SittingNumber>) -> String {
        let limit = duration(self.plan.looks.tell_clinic_after);
        format!("Missed: nobody answered the {} within {limit}", look_name(kind, sitting))
    }

    fn stopped(&self, why: StopReason, sites: &[Site]) -> String {
        format!("STOP: {}{}", stop_reason(why), self.at_sites(sites))
    }

    fn resumed(&self, by: &str, words: Option<&str>, state: &State, step: StepNumber) -> String {
        let what = format!("lets sitting begin again: {}", self.step(state, step));
        self.does(by, words, &what)
    }

    fn set_aside(&self, by: &str, why: AsideReason, words: Option<&str>) -> String {
        let why = aside_reason(why);
        let said = words.map_or_else(String::new, |words| format!(" “{}”", few(words)));
        format!("Set aside from {}:{said} {why}", self.name(by))
    }

    fn unreachable(&self, contact: &str) -> String {
        let name = self.name(contact);
        format!("Mail to {name} fails for good: {name} is asked no more")
    }

    /// What somebody does, with the words by which they did it.
    fn does(&self, by: &str, words: Option<&str>, what: &str) -> String {
        let by = self.name(by);
        match words {
            Some(words) => format!("{by} writes: “{}” → {what}", few(words)),
            None => format!("{by} {what}"),
        }
    }

    fn told(
        &self,
        why: TellReason,
        to: &ClinicianId,
        detail: &TellDetail,
        state: &State,
    ) -> String {
        let told = match (why, detail) {
            (TellReason::RepeatMarks, TellDetail::RepeatedSites { sites, .. }) => {
                format!("the same place marked again{}", self.at_sites(sites))
            }
            (TellReason::Projection, TellDetail::Projection { expect_tenths, at_sit }) => {
                let expect = one_decimal(*expect_tenths);
                format!("{} of sitting would leave a mark for {expect} min", duration(*at_sit))
            }
            (TellReason::Rising, TellDetail::Trend { points, .. }) => {
                format!("fade times are rising over {points} sittings of this step")
            }
            (TellReason::Missed, TellDetail::Look { look }) => {
                let look = state.look(*look);
                format!("nobody answered the {}", look_name(look.kind, look.sitting))
            }
            _ => tell_reason(why).to_owned(),
        };
        format!("{} is told: {told}", self.name(to.as_str()))
    }

    fn step(&self, state: &State, step: StepNumber) -> String {
        match self.ladder_step(state, step) {
            Some(found) => format!("step {step}, {}", duration(found.sit)),
            None => format!("step {step}"),
        }
    }

    fn ladder_step(&self, state: &State, step: StepNumber) -> Option<&Step> {
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

/// A line's text with how much it matters.
type Weighed = (Weight, String);

fn plain(text: String) -> Weighed {
    (Weight::Plain, text)
}

fn forward(text: String) -> Weighed {
    (Weight::Forward, text)
}

fn grave(text: String) -> Weighed {
    (Weight::Grave, text)
}

fn weight(reading: Reading) -> Weight {
    match reading {
        Reading::Marked | Reading::Persisting | Reading::Alarming => Weight::Grave,
        _ => Weight::Plain,
    }
}

fn time(state: &State, at: Instant) -> String {
    state.terms.zone.local(at).format("%H:%M").to_string()
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
