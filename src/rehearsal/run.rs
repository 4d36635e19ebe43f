//! Runs a scenario through the core, instant by instant.
//!
//! Never here: printing.
//! Promises: what falls on one instant is taken in this order: replies in the file's order, then
//! habits, then whatever is due.

use std::collections::VecDeque;

use chrono::Days;

use crate::care::{ContactId, Verdict};
use crate::config::{Answers, Habit, Said, SaidAt, Says, Scenario, Speaker, plan_version};
use crate::follow_up::event::LookKind;
use crate::follow_up::state::LookStatus;
use crate::follow_up::{
    Aim, Basis, Calendar, Entry, Event, Instant, LookId, Occasion, QuietHours, State, Target,
    TargetKind, Terms,
};

/// What a scenario led to.
#[derive(Debug)]
pub struct Rehearsal {
    /// The client's calendar.
    pub calendar: Calendar,
    /// Everything that happened, in order.
    pub entries: Vec<Entry>,
    /// How the follow-up stands at the end.
    pub state: State,
}

/// What a reply's words are read in answer to; none where nobody was ever asked.
pub type AskedAbout = Option<TargetKind>;

/// One thing that happened, and what it led to.
#[derive(Clone, Copy, Debug)]
pub struct Turn<'t> {
    /// What happened.
    pub occasion: &'t Occasion,
    /// When.
    pub at: Instant,
    /// The words behind it, where the scenario gives words.
    pub words: Option<&'t str>,
    /// What it led to; may be empty.
    pub entries: &'t [Entry],
    /// The state afterwards.
    pub state: &'t State,
}

/// A reply that the habit of the first contact will bring.
struct Habitual {
    at: Instant,
    look: LookId,
}

/// Runs a scenario to its end. `read` reads words as the service would read a mail.
///
/// # Panics
/// When the scenario's zone is unknown, which the reader of scenarios refuses.
pub fn rehearse(scenario: &Scenario, read: impl Fn(&str, AskedAbout) -> Verdict) -> Rehearsal {
    rehearse_watched(scenario, read, |_| {})
}

/// Runs a scenario to its end as `rehearse` does, and shows each turn to `watch`.
///
/// # Panics
/// As `rehearse`.
pub fn rehearse_watched(
    scenario: &Scenario,
    read: impl Fn(&str, AskedAbout) -> Verdict,
    mut watch: impl FnMut(&Turn<'_>),
) -> Rehearsal {
    let calendar = Calendar::new(scenario.client.time_zone.as_str())
        .expect("OK because a scenario with an unknown zone is refused");
    let from = calendar.midnight(scenario.begins);
    let end = calendar.midnight(scenario.begins + Days::new(u64::from(scenario.days)));
    let terms = terms_of(scenario, &calendar);
    let mut state = State::new(terms, from);
    state.hours = scenario.hours.clone();
    let mut stage = Stage {
        basis: Basis { plan: &scenario.plan, cover: &scenario.cover },
        state,
        entries: Vec::new(),
        habit: scenario.habit.as_ref(),
        first_contact: &scenario.contacts[0],
        habitual: VecDeque::new(),
        watch: &mut watch,
    };
    let mut says: Vec<(Instant, &Says)> =
        scenario.says.iter().map(|says| (instant_of(&calendar, &says.at), says)).collect();
    says.sort_by_key(|(at, _)| *at);
    let mut says: VecDeque<_> = says.into_iter().filter(|(at, _)| *at >= from).collect();
    loop {
        let next = [
            says.front().map(|(at, _)| *at),
            stage.habitual.front().map(|habitual| habitual.at),
            stage.state.next_due(&stage.basis),
        ];
        let Some(now) = next.into_iter().flatten().min().filter(|now| *now < end) else { break };
        while let Some((_, said)) = says.pop_front_if(|(at, _)| *at <= now) {
            stage.say(said, now, &read);
        }
        while let Some(habitual) = stage.habitual.pop_front_if(|habitual| habitual.at <= now) {
            stage.answer_by_habit(habitual.look, now);
        }
        stage.happen(&Occasion::Clock, now, None);
    }
    Rehearsal { calendar, entries: stage.entries, state: stage.state }
}

fn terms_of(scenario: &Scenario, calendar: &Calendar) -> Terms {
    Terms {
        risk: scenario.client.risk.clone(),
        plan: plan_version(&scenario.plan),
        zone: calendar.clone(),
        sittings_at: scenario.client.sittings_at.clone(),
        quiet: scenario.client.quiet.map(|quiet| QuietHours { from: quiet.from, to: quiet.to }),
        contacts: scenario.contacts.clone(),
        cover: Vec::new(),
        begins: scenario.begins,
    }
}

fn instant_of(calendar: &Calendar, at: &SaidAt) -> Instant {
    match at {
        SaidAt::Wall(wall) => calendar.instant(wall.date(), wall.time()),
        SaidAt::Exact(exact) => exact.to_utc(),
    }
}

struct Stage<'s> {
    basis: Basis<'s>,
    state: State,
    entries: Vec<Entry>,
    habit: Option<&'s Habit>,
    first_contact: &'s ContactId,
    habitual: VecDeque<Habitual>,
    watch: &'s mut dyn FnMut(&Turn<'_>),
}

impl Stage<'_> {
    fn happen(&mut self, occasion: &Occasion, now: Instant, words: Option<&str>) {
        let entries = self.state.advance(self.basis, occasion, now);
        (self.watch)(&Turn { occasion, at: now, words, entries: &entries, state: &self.state });
        if let Some(habit) = self.habit {
            for entry in &entries {
                if let Event::Asked { look, to, .. } = &entry.event
                    && to == self.first_contact
                {
                    let at = now + habit.after.elapsed();
                    self.habitual.push_back(Habitual { at, look: *look });
                }
            }
        }
        self.entries.extend(entries);
    }

    fn say(&mut self, says: &Says, now: Instant, read: &impl Fn(&str, AskedAbout) -> Verdict) {
        let occasion = match &says.who {
            Speaker::Clinician(by) => {
                let verdict = match &says.what {
                    Said::Verdict(verdict) => verdict.clone(),
                    Said::Words(words) => read(words, Some(TargetKind::Alert)),
                };
                Occasion::Decision { by: by.clone(), verdict, answers: None }
            }
            Speaker::Contact(by) => {
                let aim = says.answers.map_or(Aim::Newest, |answers| Aim::Kind(kind(answers)));
                let verdict = match &says.what {
                    Said::Verdict(verdict) => verdict.clone(),
                    Said::Words(words) => read(words, self.asked_about(by, aim)),
                };
                Occasion::Reply { by: by.clone(), verdict, aim }
            }
        };
        let words = match &says.what {
            Said::Words(words) => Some(words.as_str()),
            Said::Verdict(_) => None,
        };
        self.happen(&occasion, now, words);
    }

    /// What the words of a contact are read in answer to: the newest request to them; where there
    /// is none, the newest look of all, as the service does with a mail that names no request.
    fn asked_about(&self, by: &ContactId, aim: Aim) -> AskedAbout {
        let look = match self.state.newest_request(by, aim) {
            Some(Target::Announcement(_)) => return Some(TargetKind::Start),
            Some(Target::Look(id)) => self.state.look(id),
            None => self.state.looks().next_back()?,
        };
        Some(match look.kind {
            LookKind::First => TargetKind::First,
            LookKind::Recheck => TargetKind::Recheck,
            LookKind::Routine => TargetKind::Routine,
        })
    }

    /// The first contact answers a sending while the look is open.
    fn answer_by_habit(&mut self, look: LookId, now: Instant) {
        let Some(habit) = self.habit else { return };
        if self.state.look(look).status == LookStatus::Open {
            let occasion = Occasion::Reply {
                by: self.first_contact.clone(),
                verdict: Verdict::bare(habit.reading),
                aim: Aim::Request(Target::Look(look)),
            };
            self.happen(&occasion, now, None);
        }
    }
}

fn kind(answers: Answers) -> TargetKind {
    match answers {
        Answers::Look => TargetKind::First,
        Answers::Recheck => TargetKind::Recheck,
        Answers::Routine => TargetKind::Routine,
        Answers::Start => TargetKind::Start,
        Answers::Alert => TargetKind::Alert,
    }
}
