//! One JSON object a line for what a rehearsal prints.
//!
//! Never here: deciding; wording for people.
//! Promises: keys in a fixed order; entries that only keep state print nothing.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::run::Rehearsal;
use crate::follow_up::calendar::Calendar;
use crate::follow_up::event::{Entry, Event};

/// A line in the making.
struct Line(String);

impl Line {
    fn new(at: &str, what: &str) -> Self {
        Self(String::from("{")).with("at", json!(at)).with("what", json!(what))
    }

    fn with(mut self, key: &str, value: Value) -> Self {
        if self.0.len() > 1 {
            self.0.push(',');
        }
        let written = write!(self.0, "{}:{value}", Value::from(key));
        written.expect("OK because writing to a string cannot fail");
        self
    }

    fn end(mut self) -> String {
        self.0.push('}');
        self.0
    }
}

/// All lines of a rehearsal, each with its line end.
pub fn json_lines(rehearsal: &Rehearsal) -> String {
    let lines = rehearsal.entries.iter().filter_map(|entry| json_line(&rehearsal.calendar, entry));
    lines.map(|line| line + "\n").collect()
}

/// The line that an entry prints, without its line end; none for entries that only keep state.
pub fn json_line(calendar: &Calendar, entry: &Entry) -> Option<String> {
    let at = calendar.local(entry.at).to_rfc3339();
    let line = |what: &str| Line::new(&at, what);
    let line = match &entry.event {
        Event::Sitting { sitting, step, minutes, .. } => line("sitting")
            .with("sitting", json!(sitting))
            .with("step", json!(step))
            .with("minutes", json!(minutes)),
        Event::Started { sitting, start } => line("started")
            .with("sitting", json!(sitting))
            .with("start", json!(calendar.local(*start).to_rfc3339())),
        Event::Dropped { step, why, .. } => {
            line("dropped").with("step", json!(step)).with("why", json!(why))
        }
        Event::Asked { kind, sitting, to, again, .. } => line("asked")
            .with("look", json!(kind))
            .with("sitting", json!(sitting))
            .with("to", json!(to))
            .with("again", json!(again)),
        Event::Answered { kind, sitting, by, reading, sites, minutes, .. } => line("answered")
            .with("look", json!(kind))
            .with("sitting", json!(sitting))
            .with("by", json!(by))
            .with("reading", json!(reading))
            .with("sites", json!(sites))
            .with("minutes", json!(minutes)),
        Event::Credit { sitting, run, .. } => {
            line("credit").with("sitting", json!(sitting)).with("run", json!(run))
        }
        Event::NoCredit { sitting, why, .. } => {
            line("no-credit").with("sitting", json!(sitting)).with("why", json!(why))
        }
        Event::Missed { kind, sitting, .. } => {
            line("missed").with("look", json!(kind)).with("sitting", json!(sitting))
        }
        Event::Suspended => line("suspended"),
        Event::Unsuspended => line("unsuspended"),
        Event::Advanced { step, .. } => line("advanced").with("step", json!(step)),
        Event::Held { step, expect_tenths, .. } => line("held")
            .with("step", json!(step))
            .with("expect_minutes", one_decimal(*expect_tenths)),
        Event::Routine { .. } => line("routine"),
        Event::Review { day } => line("review").with("day", json!(day)),
        Event::Stopped { why, sites, .. } => {
            line("stopped").with("why", json!(why)).with("sites", json!(sites))
        }
        Event::ToldToStop { to } => line("told-to-stop").with("to", json!(to)),
        Event::Alerted { to, again, .. } => {
            line("alerted").with("to", json!(to)).with("again", json!(again))
        }
        Event::Acknowledged { by, .. } => line("acknowledged").with("by", json!(by)),
        Event::Resumed { by, step } => {
            line("resumed").with("by", json!(by)).with("step", json!(step))
        }
        Event::KeptStopped { by } => line("kept-stopped").with("by", json!(by)),
        Event::Closed { by } => line("closed").with("by", json!(by)),
        Event::ClinicTold { why, .. } => line("clinic-told").with("why", json!(why)),
        Event::SetAside { by, why } => {
            line("set-aside").with("by", json!(by)).with("why", json!(why))
        }
        Event::Enrolled { .. }
        | Event::TakenUp { .. }
        | Event::LookPlanned { .. }
        | Event::LookMoved { .. }
        | Event::ReminderPutOff { .. }
        | Event::LookWithdrawn { .. }
        | Event::RoutineDue { .. }
        | Event::RoutinePassed { .. }
        | Event::Unasked { .. }
        | Event::Found { .. }
        | Event::NotUnderstood { .. }
        | Event::SitesNamed { .. }
        | Event::SittingEnded { .. }
        | Event::Reopened { .. }
        | Event::RunBroken
        | Event::MidnightPassed { .. }
        | Event::Unreachable { .. }
        | Event::ContactsChanged { .. }
        | Event::HoursSaid { .. }
        | Event::PlanAdopted { .. }
        | Event::Paused { .. }
        | Event::Unpaused { .. }
        | Event::Fitted { .. }
        | Event::Awoke { .. }
        | Event::ClockSetBack { .. } => return None,
    };
    Some(line.end())
}

/// A number with exactly one decimal.
fn one_decimal(tenths: i64) -> Value {
    #[allow(clippy::cast_precision_loss, reason = "minutes are small numbers")]
    let number = tenths as f64 / 10.0;
    json!(number)
}
