//! A rehearsal as a timetable by local day: what would happen, by which rule, and who would get
//! which mail.
//!
//! Never here: how it looks on paper (`sheet`), the rules.
//! Promises: every day of the scenario is there, quiet ones too; everything comes from the same
//! run that prints the JSON lines.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate, NaiveTime};

use super::paper_post::{PaperMail, PaperPost};
use super::phrases::duration;
use super::remark::{Remark, Remarks, Weight, shows_words};
use super::run::{AskedAbout, Turn, rehearse_watched};
use crate::care::Verdict;
use crate::config::Scenario;
use crate::follow_up::event::Event;
use crate::follow_up::state::{Phase, Standing};
use crate::follow_up::{Calendar, Entry, State};

/// A rehearsal by day.
#[derive(Debug)]
pub(super) struct Timetable {
    pub(super) days: Vec<Day>,
    pub(super) tally: Tally,
}

/// One local day.
#[derive(Debug)]
pub(super) struct Day {
    pub(super) date: NaiveDate,
    /// How things stand when the day begins, after its midnight's decisions.
    pub(super) standing: String,
    pub(super) rows: Vec<Row>,
}

/// One line of a day, with the mails that it leads to.
#[derive(Debug)]
pub(super) struct Row {
    pub(super) time: NaiveTime,
    pub(super) remark: Remark,
    pub(super) mails: Vec<PaperMail>,
}

/// What is counted for the summary.
#[derive(Debug, Default)]
pub(super) struct Tally {
    pub(super) sittings: u32,
    pub(super) counted: u32,
    pub(super) longest: u32,
    pub(super) missed: u32,
    pub(super) stops: u32,
    pub(super) suspensions: u32,
    /// The days on which the step changed, and what it became.
    pub(super) steps: Vec<(NaiveDate, String)>,
    /// Mails by person and day.
    pub(super) mails: BTreeMap<String, BTreeMap<NaiveDate, u32>>,
}

impl Timetable {
    /// Runs a scenario and takes its timetable down.
    pub(super) fn of(scenario: &Scenario, read: impl Fn(&str, AskedAbout) -> Verdict) -> Self {
        let calendar = Calendar::new(scenario.client.time_zone.as_str())
            .expect("OK because a scenario with an unknown zone is refused");
        let post = PaperPost::new(scenario);
        let remarks = Remarks::new(&scenario.plan, BTreeMap::new(), post.languages());
        let mut clerk = Clerk {
            scenario,
            calendar,
            post: &post,
            remarks,
            standing: String::new(),
            stop: None,
            timetable: Self { days: Vec::new(), tally: Tally::default() },
        };
        let rehearsal = rehearse_watched(scenario, read, |turn| clerk.take(turn));
        // A scenario in which nothing at all happens still has its first day.
        if clerk.standing.is_empty() {
            clerk.standing = standing(&rehearsal.state, scenario);
        }
        clerk.finished()
    }
}

/// Takes a rehearsal down, turn by turn.
struct Clerk<'s> {
    scenario: &'s Scenario,
    calendar: Calendar,
    post: &'s PaperPost<'s>,
    remarks: Remarks<'s>,
    standing: String,
    /// The entry with which sitting was last stopped.
    stop: Option<Entry>,
    timetable: Timetable,
}

impl Clerk<'_> {
    fn take(&mut self, turn: &Turn<'_>) {
        let date = self.calendar.date(turn.at);
        let after = standing(turn.state, self.scenario);
        if self.calendar.midnight(date) == turn.at || self.standing.is_empty() {
            self.standing.clone_from(&after);
        }
        self.open_days_up_to(date);
        let mut confirmation = self.post.confirming(turn);
        for entry in turn.entries {
            self.timetable.tally.count(&entry.event, date, self.scenario, turn.state);
            let said = turn.words.filter(|_| shows_words(&entry.event));
            if matches!(entry.event, Event::Stopped { .. }) {
                self.stop = Some(entry.clone());
            }
            let mut mails = self.post.about(turn, entry, self.stop.as_ref());
            let remark = self.remarks.of(entry, turn.state, said);
            if remark.is_some() {
                mails.extend(confirmation.take());
            }
            self.write(turn, date, remark, mails);
        }
        // A reply that led to nothing is confirmed all the same.
        self.write(turn, date, None, confirmation.into_iter().collect());
        self.standing = after;
    }

    fn write(
        &mut self,
        turn: &Turn<'_>,
        date: NaiveDate,
        remark: Option<Remark>,
        mails: Vec<PaperMail>,
    ) {
        for mail in &mails {
            let by_day = self.timetable.tally.mails.entry(mail.to.clone()).or_default();
            *by_day.entry(date).or_default() += 1;
        }
        let nothing = || Remark { text: String::new(), rule: "", weight: Weight::Plain };
        if remark.is_none() && mails.is_empty() {
            return;
        }
        let row = Row {
            time: self.calendar.local(turn.at).time(),
            remark: remark.unwrap_or_else(nothing),
            mails,
        };
        let day = self.timetable.days.last_mut();
        day.expect("OK because the turn's day was opened").rows.push(row);
    }

    /// Opens all days up to one, so that quiet days are seen to be quiet.
    fn open_days_up_to(&mut self, date: NaiveDate) {
        loop {
            let next = match self.timetable.days.last() {
                Some(day) => day.date + Days::new(1),
                None => self.scenario.begins,
            };
            if next > date {
                return;
            }
            let standing = self.standing.clone();
            self.timetable.days.push(Day { date: next, standing, rows: Vec::new() });
        }
    }

    fn finished(mut self) -> Timetable {
        let last = self.scenario.begins + Days::new(u64::from(self.scenario.days) - 1);
        self.open_days_up_to(last);
        self.timetable
    }
}

impl Tally {
    fn count(&mut self, event: &Event, date: NaiveDate, scenario: &Scenario, state: &State) {
        match event {
            Event::Sitting { minutes, .. } => {
                self.sittings += 1;
                self.longest = self.longest.max(minutes.count());
            }
            Event::Credit { .. } => self.counted += 1,
            Event::Missed { .. } => self.missed += 1,
            Event::Stopped { .. } => {
                self.stops += 1;
                self.steps.push((date, "stopped".to_owned()));
            }
            Event::Suspended => {
                self.suspensions += 1;
                self.steps.push((date, "suspended".to_owned()));
            }
            Event::Unsuspended if !state.is_stopped() => {
                self.steps.push((date, "sitting goes on".to_owned()));
            }
            Event::Advanced { step, .. } | Event::Resumed { step, .. } => {
                let sit = sit(scenario, step.count());
                self.steps.push((date, format!("step {step}{sit}")));
            }
            Event::Routine { .. } => self.steps.push((date, "routine checks".to_owned())),
            Event::Closed { .. } => self.steps.push((date, "closed".to_owned())),
            _ => {}
        }
    }
}

/// How things stand, in few words.
fn standing(state: &State, scenario: &Scenario) -> String {
    match state.standing {
        Standing::Stopped { .. } => return "sitting is stopped".to_owned(),
        Standing::Paused { .. } => return "paused".to_owned(),
        Standing::Suspended => return "sitting is suspended".to_owned(),
        Standing::Closed => return "closed".to_owned(),
        Standing::Open => {}
    }
    let Phase::BuildUp { step } = state.phase else { return "routine checks".to_owned() };
    let ladder = scenario.plan.ladder(&scenario.client.risk);
    let steps = ladder.map_or(0, |ladder| ladder.steps.len());
    let found = ladder.and_then(|ladder| ladder.steps.get(step.count() as usize - 1));
    let needed = found.map_or(0, |step| step.clear_to_advance);
    let sit = sit(scenario, step.count());
    format!("step {step} of {steps}{sit}, {} of {needed} in a row", state.run.credits)
}

fn sit(scenario: &Scenario, step: u32) -> String {
    let ladder = scenario.plan.ladder(&scenario.client.risk);
    let found = ladder.and_then(|ladder| ladder.steps.get(step as usize - 1));
    found.map_or_else(String::new, |step| format!(" ({})", duration(step.sit)))
}
