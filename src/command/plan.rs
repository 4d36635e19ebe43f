//! `fadewatch plan`: check a plan, compare two, adopt one for a client.
//!
//! Never here: reading plan files (`config`), what adopting does.
//! Promises: a preview changes nothing; only a clinician adopts.

use std::process::ExitCode;

use clap::{Args, Subcommand};
use serde::Serialize;

use super::exit::Exit;
use super::moments::moment;
use super::paper;
use super::plan_source::named;
use super::plan_use::InUseArgs;
use super::report::act_and_tell;
use super::setting::{CommandError, ConfigOption, now, show_warnings, there};
use super::standing::Stand;
use super::table::{Cell, Table};
use super::who::{self, Act};
use crate::care::{ClinicianId, Minutes, Plan};
use crate::config::{Problem, plan_version, read_plan, settings};
use crate::service::{ServiceError, adopting, covering};
use crate::store::{Loaded, StoreError};

/// What `plan` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    fadewatch plan check plans/two-week.toml\n  \
    fadewatch plan diff plans/two-week.toml plans/two-week-2.toml\n  \
    fadewatch plan in-use --new two-week-2\n  \
    fadewatch plan adopt A7 two-week-2 --by seating --preview\n\n\
    A plan is named by its file, by its id in the clinic's folder of plans, or by the\n\
    beginning of a version that is in use.")]
pub(super) struct PlanArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Check a plan file: all its problems, and what it says in short.
    #[command(after_help = "Example:\n  fadewatch plan check plans/two-week.toml")]
    Check {
        /// The plan file.
        file: std::path::PathBuf,
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Show how two plans differ, setting by setting.
    #[command(after_help = "Example:\n  fadewatch plan diff 1f2a3b4c two-week")]
    Diff {
        /// The first plan.
        first: String,
        /// The second plan.
        second: String,
        /// Print JSON.
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        config: ConfigOption,
    },
    /// Show which follow-ups run on which version, and what another plan would change for each.
    InUse(InUseArgs),
    /// Let a client go on by another plan, or another version of the same.
    #[command(
        after_help = "Example:\n  fadewatch plan adopt A7 two-week-2 --by seating --preview\n\n\
        The step is kept as far as the new ladder reaches, the run starts again, open looks\n\
        keep their clocks."
    )]
    Adopt(AdoptArgs),
}

#[derive(Debug, Args)]
struct AdoptArgs {
    /// The client's reference.
    client: String,
    /// The plan.
    plan: String,
    /// The clinician who adopts it.
    #[arg(long, value_name = "CLINICIAN")]
    by: String,
    /// Show what would change, and change nothing.
    #[arg(long)]
    preview: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

/// A setting in which two plans differ.
#[derive(Debug, Serialize)]
struct Difference {
    setting: String,
    first: Option<String>,
    second: Option<String>,
}

#[derive(Serialize)]
struct CheckJson {
    usable: bool,
    id: Option<String>,
    title: Option<String>,
    version: Option<String>,
    approved_by: Option<String>,
    problems: Vec<ProblemJson>,
}

#[derive(Serialize)]
struct ProblemJson {
    severity: &'static str,
    file: String,
    line: Option<usize>,
    column: Option<usize>,
    what: String,
    why: Option<String>,
    help: Option<String>,
}

#[derive(Serialize)]
struct PreviewJson {
    client: String,
    from: String,
    to: String,
    before: String,
    after: String,
    differences: Vec<Difference>,
}

impl PlanArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        match &self.what {
            What::Check { file, json } => check(file, *json),
            What::Diff { first, second, json, config } => {
                let (first, second) = (named(config, first)?, named(config, second)?);
                let differences = differences(&first, &second);
                if *json {
                    paper::print_json(&differences)?;
                } else if differences.is_empty() {
                    let version = plan_version(&first);
                    paper::print(&format!("The two are the same, version {version}.\n"))?;
                } else {
                    paper::print(&difference_table(&differences).rendered(paper::colour()))?;
                }
                Ok(Exit::Done.into())
            }
            What::InUse(in_use) => in_use.run(),
            What::Adopt(adopt) => adopt.run(),
        }
    }
}

fn check(file: &std::path::Path, json: bool) -> Result<ExitCode, CommandError> {
    let read = read_plan(there(file)?);
    if json {
        let (plan, problems, usable) = match &read {
            Ok(read) => (Some(&read.value), &read.warnings, true),
            Err(problems) => (None, problems, false),
        };
        paper::print_json(&CheckJson {
            usable,
            id: plan.map(|plan| plan.id.clone()),
            title: plan.map(|plan| plan.title.clone()),
            version: plan.map(|plan| plan_version(plan).as_str().to_owned()),
            approved_by: plan.and_then(|plan| plan.approval.as_ref()).map(|a| a.by.clone()),
            problems: problems.problems().iter().map(ProblemJson::of).collect(),
        })?;
        return Ok(if usable { Exit::Done } else { Exit::BadInput }.into());
    }
    let read = read?;
    show_warnings(&read.warnings);
    let plan = read.value;
    let approval = match &plan.approval {
        Some(approval) => format!("approved by {} on {}", approval.by, approval.on),
        None => "NOT APPROVED: it can be rehearsed, real clients are not run on it".to_owned(),
    };
    let mut table = Table::new(&["level", "steps", "from", "to", "routine phase"]);
    for (level, ladder) in &plan.risk {
        let sit = |step: Option<&crate::care::Step>| Cell::maybe(step.map(|s| s.sit.to_string()));
        let looks = ladder.routine.as_ref().map(|routine| match routine.look_at.len() {
            1 => "1 look a day".to_owned(),
            looks => format!("{looks} looks a day"),
        });
        table.row(vec![
            level.as_str().into(),
            ladder.steps.len().to_string().into(),
            sit(ladder.steps.first()),
            sit(ladder.steps.last()),
            Cell::maybe(looks),
        ]);
    }
    let (id, title, version) = (&plan.id, &plan.title, plan_version(&plan));
    let levels = table.rendered(paper::colour());
    paper::print(&format!("{id}: {title}\nversion {version}, {approval}\n\n{levels}"))?;
    Ok(Exit::Done.into())
}

impl ProblemJson {
    fn of(problem: &Problem) -> Self {
        let position = problem.position();
        Self {
            severity: if problem.is_error() { "error" } else { "warning" },
            file: problem.file().to_owned(),
            line: position.map(|position| position.line),
            column: position.map(|position| position.column),
            what: problem.what().to_owned(),
            why: problem.why().map(str::to_owned),
            help: problem.help().map(str::to_owned),
        }
    }
}

impl AdoptArgs {
    fn run(&self) -> Result<ExitCode, CommandError> {
        let plan = named(&self.config, &self.plan)?;
        let (office, store) =
            if self.preview { self.config.open_to_read()? } else { self.config.open()? };
        let by = who::staff(&office.clinic, &self.by, Act::Decide)?;
        let loaded = store.read_blocking(|view| who::loaded(view, &self.client))?;
        if self.preview {
            let (present, cover) = store.read_blocking(|view| -> Result<_, StoreError> {
                let cover = covering::cover(&office, view, &loaded.state, now())?;
                Ok((office.plan(view, &loaded.plan)?, cover))
            })?;
            return self.preview(&cover, &loaded, (&by, &present, plan));
        }
        let what = format!("{by} adopts plan {}, version {}", plan.id, plan_version(&plan));
        act_and_tell(office, &store, &loaded, &what, self.json, move |office, tx, id, now| {
            adopting::adopt(office, tx, id, (&by, &plan), now)
        })
    }

    fn preview(
        &self,
        cover: &[ClinicianId],
        loaded: &Loaded,
        (by, present, plan): (&ClinicianId, &std::sync::Arc<Plan>, Plan),
    ) -> Result<ExitCode, CommandError> {
        let state = adopting::preview(cover, loaded, (by, &plan), now());
        let state = state.map_err(ServiceError::from)?;
        let (from, to) = (plan_version(present), plan_version(&plan));
        let differences = of_level(differences(present, &plan), loaded);
        let stand = |state, plan| Stand::of(loaded.client.clone(), state, plan, cover.to_vec());
        let before = stand(loaded.state.clone(), std::sync::Arc::clone(present));
        let after = stand(state, std::sync::Arc::new(plan));
        if self.json {
            paper::print_json(&PreviewJson {
                client: loaded.client.to_string(),
                from: from.as_str().to_owned(),
                to: to.as_str().to_owned(),
                before: in_short(&before),
                after: in_short(&after),
                differences,
            })?;
        } else {
            paper::print(&format!(
                "{}: version {from} now, {to} when adopted\n  before: {}\n  after:  {}\n\
                 Open looks keep the clocks that they were asked with.\n\n{}",
                loaded.client,
                in_short(&before),
                in_short(&after),
                difference_table(&differences).rendered(paper::colour()),
            ))?;
        }
        Ok(Exit::Done.into())
    }
}

/// `step 2 of 5, 30min, run 3 of 4; next 2026-03-06 10:00: the sitting of 10:00, 30min`.
pub(super) fn in_short(stand: &Stand) -> String {
    let run = stand.run().map(|run| format!(", run {run}")).unwrap_or_default();
    let next = stand.next.map(|(at, _)| moment(&stand.state.terms.zone, at));
    let what = stand.next_in_words().unwrap_or_default();
    let next = next.map(|at| format!("; next {at}: {what}")).unwrap_or_default();
    format!("{}, step {}{run}{next}", stand.standing(), stand.step())
}

/// The differences that one client feels: those of other risk levels are left out.
fn of_level(differences: Vec<Difference>, loaded: &Loaded) -> Vec<Difference> {
    let own = format!("risk.{}.", loaded.state.terms.risk);
    let felt = |d: &Difference| !d.setting.starts_with("risk.") || d.setting.starts_with(&own);
    differences.into_iter().filter(felt).collect()
}

fn differences(first: &Plan, second: &Plan) -> Vec<Difference> {
    let (first, second) = (settings(first), settings(second));
    let value = |all: &[(String, String)], name: &str| {
        let found = all.iter().find(|(setting, _)| setting == name);
        found.map(|(_, value)| in_words(name, value))
    };
    let mut names: Vec<&String> = first.iter().map(|(name, _)| name).collect();
    names.extend(second.iter().map(|(name, _)| name).filter(|name| value(&first, name).is_none()));
    names
        .into_iter()
        .map(|name| Difference {
            setting: name.clone(),
            first: value(&first, name),
            second: value(&second, name),
        })
        .filter(|difference| difference.first != difference.second)
        .collect()
}

/// Settings that are durations, by the last part of their name; the canonical form has bare
/// minutes.
const DURATIONS: [&str; 10] = [
    "fade_limit",
    "slow_fade",
    "answer_within",
    "tell_clinic_after",
    "recheck_within",
    "rest_after_mark",
    "repeat_alert",
    "pass_on_after",
    "sit",
    "look_every",
];

fn in_words(name: &str, value: &str) -> String {
    let last = name.rsplit('.').next().unwrap_or(name);
    match value.parse() {
        Ok(minutes) if DURATIONS.contains(&last) => Minutes::new(minutes).to_string(),
        _ => value.to_owned(),
    }
}

fn difference_table(differences: &[Difference]) -> Table {
    let mut table = Table::new(&["setting", "first", "second"]);
    for difference in differences {
        table.row(vec![
            difference.setting.as_str().into(),
            Cell::maybe(difference.first.clone()),
            Cell::maybe(difference.second.clone()),
        ]);
    }
    table
}
