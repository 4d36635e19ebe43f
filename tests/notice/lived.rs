//! Whole follow-ups lived through by the real core, with people who answer by a script.
//!
//! Never here: checks. Promises: all people are invented; the same script gives the same journal.

use fadewatch::care::{ClinicianId, Minutes, Plan, Reading, StepChoice, Verdict};
use fadewatch::follow_up::event::LookKind;
use fadewatch::follow_up::{Aim, Basis, Entry, Event, Instant, Occasion, State, Target, Terms};

use crate::fixture::{at, clinician_id, contact_id, plan, site, state as fresh};

/// A follow-up as it stands, with its journal.
pub struct Lived {
    pub plan: Plan,
    pub state: State,
    pub entries: Vec<Entry>,
}

/// A request as the script sees it.
pub struct Request {
    pub kind: LookKind,
    /// The sitting's number; of a routine look, none.
    pub sitting: u32,
    /// The day, counted from 1.
    pub day: i64,
}

/// What people do: answers to requests, and what a clinician decides after a stop.
pub struct Script {
    pub days: i64,
    pub answer: fn(&Request) -> Option<Verdict>,
    /// Hours after a stop, and the step to resume at.
    pub resume: Option<(i64, u32)>,
}

/// Minutes from a request to its answer.
const ANSWER_AFTER: i64 = 4;

pub fn clear() -> Verdict {
    Verdict::bare(Reading::Clear)
}

pub fn with(reading: Reading, sites: &[&str], minutes: Option<u32>) -> Verdict {
    let sites = sites.iter().map(|id| site(id)).collect();
    Verdict { sites, minutes: minutes.map(Minutes::new), ..Verdict::bare(reading) }
}

/// Lives through a script.
pub fn lived(script: &Script) -> Lived {
    let (plan, cover) = (plan(), vec![clinician_id("lee"), clinician_id("marsh")]);
    let from = at("6T00:00");
    let terms = Terms { ..fresh(1).terms };
    let first = Entry { at: from, event: Event::Enrolled { terms: Box::new(terms), from } };
    let mut life = Life {
        state: State::fold(None, &first),
        entries: vec![first],
        waiting: Vec::new(),
        plan,
        cover,
    };
    let until = from + chrono::TimeDelta::days(script.days);
    loop {
        let basis = Basis { plan: &life.plan, cover: &life.cover };
        let due = life.state.next_due(&basis);
        let said = life.waiting.iter().map(|(when, _)| *when).min();
        match (due, said) {
            (_, Some(when)) if when < until && due.is_none_or(|due| when <= due) => {
                let next = life.waiting.iter().position(|(at, _)| *at == when).unwrap();
                let (_, occasion) = life.waiting.remove(next);
                life.take(script, &occasion, when);
            }
            (Some(due), _) if due < until => life.take(script, &Occasion::Clock, due),
            _ => return Lived { plan: life.plan, state: life.state, entries: life.entries },
        }
    }
}

struct Life {
    plan: Plan,
    cover: Vec<ClinicianId>,
    state: State,
    entries: Vec<Entry>,
    /// What people are about to say.
    waiting: Vec<(Instant, Occasion)>,
}

impl Life {
    fn take(&mut self, script: &Script, occasion: &Occasion, now: Instant) {
        let basis = Basis { plan: &self.plan, cover: &self.cover };
        let entries = self.state.advance(basis, occasion, now);
        for entry in &entries {
            self.answer(script, &entry.event, now);
        }
        self.entries.extend(entries);
    }

    fn answer(&mut self, script: &Script, event: &Event, now: Instant) {
        match event {
            Event::Asked { look, kind, sitting, to, again: 0, .. } if to.as_str() == "first" => {
                let day = (now - at("6T00:00")).num_days() + 1;
                let sitting = sitting.map_or(0, fadewatch::follow_up::SittingNumber::count);
                let request = Request { kind: *kind, sitting, day };
                let Some(verdict) = (script.answer)(&request) else { return };
                let by = contact_id("first");
                let occasion =
                    Occasion::Reply { by, verdict, aim: Aim::Request(Target::Look(*look)) };
                self.waiting.push((now + chrono::TimeDelta::minutes(ANSWER_AFTER), occasion));
            }
            Event::Stopped { .. } => {
                let Some((hours, step)) = script.resume else { return };
                let step = Some(StepChoice::Step(step));
                let verdict = Verdict { step, ..Verdict::bare(Reading::Resume) };
                let occasion =
                    Occasion::Decision { by: clinician_id("lee"), verdict, answers: None };
                self.waiting.push((now + chrono::TimeDelta::hours(hours), occasion));
            }
            _ => {}
        }
    }
}

/// The scripts by name.
pub fn scripts() -> Vec<(&'static str, Script)> {
    let script = |days, answer, resume| Script { days, answer, resume };
    vec![
        ("short", script(2, short, None)),
        ("stop", script(6, stop, None)),
        ("alarming", script(5, alarming, None)),
        ("unreported", script(5, unreported, None)),
        ("missed", script(8, missed, None)),
        ("rising", script(5, rising, None)),
        ("projection", script(8, projection, None)),
        ("sixty-days", script(60, sixty_days, Some((20, 2)))),
    ]
}

fn short(request: &Request) -> Option<Verdict> {
    Some(match (request.kind, request.sitting) {
        (LookKind::First, 3) => with(Reading::Marked, &["ischium-left"], None),
        (LookKind::Recheck, _) => with(Reading::Faded, &[], None),
        _ => clear(),
    })
}

fn stop(request: &Request) -> Option<Verdict> {
    Some(match (request.kind, request.sitting) {
        (LookKind::First, 5) => with(Reading::Faded, &["ischium-right"], Some(20)),
        (LookKind::First, 7) => with(Reading::Faded, &["ischium-right"], Some(10)),
        (LookKind::First, 9) => with(Reading::Marked, &["ischium-right"], None),
        (LookKind::Recheck, _) => with(Reading::Persisting, &[], None),
        _ => clear(),
    })
}

fn alarming(request: &Request) -> Option<Verdict> {
    Some(match (request.kind, request.sitting) {
        (LookKind::First, 6) => with(Reading::Alarming, &["heel-left"], None),
        _ => clear(),
    })
}

fn unreported(request: &Request) -> Option<Verdict> {
    match (request.kind, request.sitting) {
        (LookKind::First, 6) => Some(with(Reading::Marked, &["sacrum"], None)),
        (LookKind::Recheck, _) => None,
        _ => Some(clear()),
    }
}

fn missed(request: &Request) -> Option<Verdict> {
    match (request.kind, request.sitting) {
        (LookKind::First, 4 | 8 | 9) => None,
        (LookKind::First, 6) => Some(with(Reading::Faded, &["thigh-left"], None)),
        _ => Some(clear()),
    }
}

fn rising(request: &Request) -> Option<Verdict> {
    let faded = |after| Some(with(Reading::Faded, &["ischium-left"], Some(after)));
    match (request.kind, request.sitting) {
        (LookKind::First, 5) => faded(16),
        (LookKind::First, 6) => faded(19),
        (LookKind::First, 7) => faded(23),
        (LookKind::First, 8) => faded(28),
        _ => Some(clear()),
    }
}

fn projection(request: &Request) -> Option<Verdict> {
    let faded = |after| Some(with(Reading::Faded, &["sacrum"], Some(after)));
    match (request.kind, request.sitting) {
        (LookKind::First, 1..=4) => faded(2),
        (LookKind::First, 5..=8) => faded(8),
        (LookKind::First, 9..=16) => faded(14),
        _ => Some(clear()),
    }
}

fn sixty_days(request: &Request) -> Option<Verdict> {
    let many = ["ischium-left", "ischium-right", "sacrum", "thigh-left", "trochanter-right"];
    let place = many[request.sitting as usize % many.len()];
    match (request.kind, request.sitting) {
        (LookKind::First, 7 | 31 | 52) => Some(with(Reading::Marked, &[place], None)),
        (LookKind::Recheck, 7) => Some(with(Reading::Persisting, &[], None)),
        (LookKind::Recheck, 52) => None,
        (LookKind::Recheck, _) => Some(with(Reading::Faded, &[], Some(26))),
        (LookKind::First, 12 | 23) => None,
        (LookKind::First, number) if number % 6 == 5 => {
            Some(with(Reading::Faded, &[place], Some(6 + number % 9)))
        }
        (LookKind::First, number) if number % 11 == 9 => Some(with(Reading::Faded, &[], None)),
        (LookKind::Routine, _) if request.day % 13 == 0 => {
            Some(with(Reading::Faded, &["heel-right"], Some(8)))
        }
        _ => Some(clear()),
    }
}
