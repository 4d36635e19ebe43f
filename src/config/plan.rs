//! Reads a tolerance-progression plan.
//!
//! Never here: the client's own times (see `timetable`); deciding anything by the plan.
//! Promises: no setting has a hidden default; what is read obeys the promises of `care::plan`.

use std::collections::BTreeMap;

use chrono::NaiveTime;
use toml::de::DeTable;

use super::document::Document;
use super::plan_doubts;
use super::plan_keys::PLAN;
use super::problem::{Checked, Problems, Purpose, Report};
use super::table::{At, Table};
use crate::care::plan::Approval;
use crate::care::{
    ContactId, Ladder, Limits, Minutes, Plan, RepeatMarks, RiskLevel, Routine, Step, StopTerms,
};

/// Reads a plan for real clients from a text.
///
/// # Errors
/// All problems, when the text is no usable plan.
pub fn parse_plan(name: &str, text: &str) -> Result<Checked<Plan>, Problems> {
    let (plan, problems) = plan_text(name, text, Purpose::Serve);
    Checked::unless_refused(plan, problems)
}

/// Reads a plan for whatever purpose.
pub(super) fn plan_text(name: &str, text: &str, purpose: Purpose) -> (Option<Plan>, Problems) {
    Document::new(name, text).read(purpose, root)
}

/// Reads a plan that is a table of another file.
pub(super) fn plan_table(table: &Table<'_>) -> Option<Plan> {
    let limits = table.table("looks").and_then(|looks| limits(&looks));
    let repeat_marks = table.table("watch").and_then(|watch| repeat_marks(&watch));
    let stop = table.table("stop").and_then(|stop| stop_terms(&stop));
    let risk = risk_levels(table);
    let approval = approval(table);
    // A plan's file is named after its id, so the id obeys the same rule as those of people.
    let id = table.parsed("id", ContactId::new);
    let title = table.text("title");
    Some(Plan {
        id: id?.value.to_string(),
        title: title?.value.to_owned(),
        approval,
        looks: limits?,
        repeat_marks,
        stop: stop?,
        risk: risk?,
    })
}

fn root(map: &DeTable<'_>, report: &Report) -> Option<Plan> {
    plan_table(&Table::root(map, &PLAN, report))
}

/// A plan counts as approved only with both a name and a day.
fn approval(table: &Table<'_>) -> Option<Approval> {
    let by = table.text("approved_by").filter(|by| !by.value.is_empty());
    let on = table.date("approved_on");
    match (by, on) {
        (Some(by), Some(on)) => Some(Approval { by: by.value.to_owned(), on: on.value }),
        (Some(by), None) if !table.has("approved_on") => {
            table
                .report
                .warning(by.span, "a plan without `approved_on` counts as not approved".to_owned())
                .label("approved by somebody, but when?")
                .why("it can be rehearsed; real clients are not run on it")
                .help("add the day, such as `approved_on = 2026-03-02`");
            None
        }
        _ => None,
    }
}

fn limits(looks: &Table<'_>) -> Option<Limits> {
    let fade_limit = looks.duration("fade_limit");
    let slow_fade = looks.duration("slow_fade");
    let answer_within = looks.duration("answer_within");
    let ask_again = looks.count("ask_again");
    let tell_clinic_after = looks.duration("tell_clinic_after");
    let recheck_within = looks.duration("recheck_within");
    let missed_to_suspend = looks.count("missed_to_suspend");
    let rest_after_mark = looks.duration("rest_after_mark");
    if let (Some(slow), Some(limit)) = (&slow_fade, &fade_limit) {
        plan_doubts::slow_fade_above_limit(looks.report, slow, limit);
    }
    if let (Some(wait), Some(again), Some(end)) = (&answer_within, &ask_again, &tell_clinic_after) {
        plan_doubts::second_contact_never_asked(looks.report, wait, again, end);
    }
    Some(Limits {
        fade_limit: fade_limit?.value,
        slow_fade: slow_fade?.value,
        answer_within: answer_within?.value,
        ask_again: ask_again?.value,
        tell_clinic_after: tell_clinic_after?.value,
        recheck_within: recheck_within?.value,
        missed_to_suspend: missed_to_suspend?.value,
        rest_after_mark: rest_after_mark?.value,
    })
}

fn repeat_marks(watch: &Table<'_>) -> Option<RepeatMarks> {
    let table = watch.table("repeat_marks")?;
    let (count, of_last) = (table.count("count"), table.count("of_last"));
    if let (Some(count), Some(of_last)) = (&count, &of_last) {
        plan_doubts::repeat_marks_out_of_reach(watch.report, count, of_last);
    }
    Some(RepeatMarks { count: count?.value, of_last: of_last?.value })
}

fn stop_terms(stop: &Table<'_>) -> Option<StopTerms> {
    let repeat_alert = stop.duration("repeat_alert");
    let pass_on_after = stop.duration("pass_on_after");
    let bring_back_at = stop.time("bring_back_at");
    let step_back = stop.count("step_back");
    Some(StopTerms {
        repeat_alert: repeat_alert?.value,
        pass_on_after: pass_on_after?.value,
        bring_back_at: bring_back_at?.value,
        step_back: step_back?.value,
    })
}

fn risk_levels(plan: &Table<'_>) -> Option<BTreeMap<RiskLevel, Ladder>> {
    let named = plan.named("risk")?;
    if named.is_empty() {
        plan.report
            .error(plan.key_span("risk"), "the plan has no risk level".to_owned())
            .label("no ladder in here")
            .help("add at least one step: `[[risk.high.step]]`");
        return None;
    }
    let count = named.len();
    let mut levels = BTreeMap::new();
    for (name, table) in named {
        let ladder = ladder(&table);
        match RiskLevel::new(name.value) {
            Ok(level) => {
                levels.extend(ladder.map(|ladder| (level, ladder)));
            }
            Err(reason) => {
                let what = format!("\"{}\" cannot name a risk level", name.value);
                plan.report.error(name.span, what).label(reason.to_string());
            }
        }
    }
    (levels.len() == count).then_some(levels)
}

fn ladder(level: &Table<'_>) -> Option<Ladder> {
    let look_at = if level.has("look_at") { level.times("look_at") } else { Some(Vec::new()) };
    let look_at = look_at.map(|times| sorted_times(level, times));
    let steps = level.tables("step").and_then(|tables| {
        if tables.is_empty() {
            level
                .report
                .error(level.key_span("step"), "the ladder has no step".to_owned())
                .label("at least one step is needed")
                .help("add one: `sit`, `sittings_per_day` and `clear_to_advance`");
            return None;
        }
        let read: Vec<Step> = tables.iter().filter_map(step).collect();
        (read.len() == tables.len()).then_some(read)
    });
    let routine = match level.table("routine") {
        Some(table) => Some(routine(&table)),
        None if level.has("routine") => return None,
        None => None,
    };
    let routine = match routine {
        Some(read) => Some(read?),
        None => None,
    };
    Some(Ladder { look_at: look_at?, steps: steps?, routine })
}

fn step(table: &Table<'_>) -> Option<Step> {
    let sit = table.duration("sit");
    let sittings_per_day = table.count("sittings_per_day");
    let clear_to_advance = table.count("clear_to_advance");
    let look_every = table.duration("look_every");
    if table.has("look_every") && look_every.is_none() {
        return None;
    }
    let sit = sit?;
    if sit.value > Minutes::new(ONE_DAY_MINUTES) {
        table
            .report
            .error(sit.span, "a sitting cannot last longer than a day".to_owned())
            .label(format!("{} is more than 24h", sit.value))
            .why("the next day's sittings would begin inside it");
        return None;
    }
    if let Some(every) = look_every.as_ref().filter(|every| every.value >= sit.value) {
        plan_doubts::look_every_without_effect(table.report, every, &sit);
    }
    Some(Step {
        sit: sit.value,
        sittings_per_day: sittings_per_day?.value,
        clear_to_advance: clear_to_advance?.value,
        look_every: look_every.map(|every| every.value),
    })
}

fn routine(table: &Table<'_>) -> Option<Routine> {
    let look_at = table.times("look_at").map(|times| sorted_times(table, times));
    let days = table.counts("review_after_days").map(|days| {
        plan_doubts::sorted(table.report, days, "the days of review", |day| day.to_string())
    });
    let look_at = look_at?;
    if look_at.is_empty() {
        plan_doubts::routine_without_looks(table.report, table.key_span("look_at"));
    }
    Some(Routine { look_at, review_after_days: days? })
}

fn sorted_times(table: &Table<'_>, times: Vec<At<NaiveTime>>) -> Vec<NaiveTime> {
    let print = |time: &NaiveTime| time.format("%H:%M").to_string();
    plan_doubts::sorted(table.report, times, "the times", print)
}

/// The longest sitting.
const ONE_DAY_MINUTES: u32 = 24 * 60;
