//! The version of a plan: a hash over its canonical form.
//!
//! Never here: bytes of files; comments and white space make no new version.
//! Promises: equal plans have equal versions, on every machine and in every later release.
//!
//! The canonical form is a text in UTF-8 that begins with the line `fadewatch plan 1`. Each setting
//! follows on a line of its own, `path = value`, in the order of `settings` below: the plan's
//! tables as people write them, risk levels in the order of their names, steps counted from 1.
//! Texts are written as JSON strings, durations in whole minutes, times of day as `HH:MM`, days as
//! `YYYY-MM-DD`, lists with `, ` between. A setting that the plan leaves out has no line. The
//! version is the SHA-256 of that text, in lower-case hexadecimal.

use std::fmt::Write as _;

use chrono::NaiveTime;
use sha2::{Digest, Sha256};

use crate::care::{Ladder, Plan, PlanVersion};

/// The version of a plan.
pub fn plan_version(plan: &Plan) -> PlanVersion {
    let digest = Sha256::digest(canonical(plan).as_bytes());
    let mut hash = String::with_capacity(64);
    for byte in digest {
        write!(hash, "{byte:02x}").expect("OK because writing to a string cannot fail");
    }
    PlanVersion::from_hash(hash)
}

/// The canonical form of a plan.
pub fn canonical(plan: &Plan) -> String {
    let mut text = String::from("fadewatch plan 1\n");
    for (path, value) in settings(plan) {
        text.push_str(&path);
        text.push_str(" = ");
        text.push_str(&value);
        text.push('\n');
    }
    text
}

/// Every setting of a plan as a path and a value, in the order of the canonical form; two plans
/// differ exactly where these differ.
pub fn settings(plan: &Plan) -> Vec<(String, String)> {
    let mut all = Settings(Vec::new());
    all.add("id", quoted(&plan.id));
    all.add("title", quoted(&plan.title));
    if let Some(approval) = &plan.approval {
        all.add("approved_by", quoted(&approval.by));
        all.add("approved_on", approval.on.to_string());
    }
    let looks = &plan.looks;
    all.add("looks.fade_limit", looks.fade_limit.count());
    all.add("looks.slow_fade", looks.slow_fade.count());
    all.add("looks.answer_within", looks.answer_within.count());
    all.add("looks.ask_again", looks.ask_again);
    all.add("looks.tell_clinic_after", looks.tell_clinic_after.count());
    all.add("looks.recheck_within", looks.recheck_within.count());
    all.add("looks.missed_to_suspend", looks.missed_to_suspend);
    all.add("looks.rest_after_mark", looks.rest_after_mark.count());
    if let Some(repeat) = plan.repeat_marks {
        all.add("watch.repeat_marks.count", repeat.count);
        all.add("watch.repeat_marks.of_last", repeat.of_last);
    }
    all.add("stop.repeat_alert", plan.stop.repeat_alert.count());
    all.add("stop.pass_on_after", plan.stop.pass_on_after.count());
    all.add("stop.bring_back_at", clock(plan.stop.bring_back_at));
    all.add("stop.step_back", plan.stop.step_back);
    for (level, ladder) in &plan.risk {
        all.add_ladder(&format!("risk.{level}"), ladder);
    }
    all.0
}

struct Settings(Vec<(String, String)>);

impl Settings {
    fn add(&mut self, path: &str, value: impl ToString) {
        self.0.push((path.to_owned(), value.to_string()));
    }

    fn add_ladder(&mut self, path: &str, ladder: &Ladder) {
        if !ladder.look_at.is_empty() {
            self.add(&format!("{path}.look_at"), clocks(&ladder.look_at));
        }
        for (number, step) in (1..).zip(&ladder.steps) {
            let path = format!("{path}.step.{number}");
            self.add(&format!("{path}.sit"), step.sit.count());
            self.add(&format!("{path}.sittings_per_day"), step.sittings_per_day);
            self.add(&format!("{path}.clear_to_advance"), step.clear_to_advance);
            if let Some(every) = step.look_every {
                self.add(&format!("{path}.look_every"), every.count());
            }
        }
        if let Some(routine) = &ladder.routine {
            let days: Vec<String> =
                routine.review_after_days.iter().map(ToString::to_string).collect();
            self.add(&format!("{path}.routine.look_at"), clocks(&routine.look_at));
            self.add(&format!("{path}.routine.review_after_days"), days.join(", "));
        }
    }
}

fn clock(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}

fn clocks(times: &[NaiveTime]) -> String {
    times.iter().map(|time| clock(*time)).collect::<Vec<_>>().join(", ")
}

fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
