//! `fadewatch plan in-use`: which follow-ups run on which version of which plan, and what another
//! would change for each.
//!
//! Never here: adopting it.
//! Promises: nothing is changed; ended follow-ups are left out; a follow-up that the other plan does
//! not fit says why.

use std::collections::HashMap;
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::paper;
use super::plan::in_short;
use super::plan_source::named;
use super::setting::{CommandError, ConfigOption, now};
use super::standing::Stand;
use super::table::{Cell, Ink, Table};
use super::who;
use crate::care::Plan;
use crate::config::{plan_version, read_plan};
use crate::service::{Office, adopting};
use crate::store::View;

/// What `plan in-use` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fadewatch plan in-use\n  fadewatch plan in-use --new two-week-2\
    \n\nA follow-up keeps its version until a clinician adopts another: fadewatch plan adopt."
)]
pub(super) struct InUseArgs {
    /// Say, too, what adopting this plan would change for each.
    #[arg(long, value_name = "PLAN")]
    new: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct InUse {
    client: String,
    plan: String,
    version: String,
    /// The version that the clinic's folder has under the same id; none where it has no usable one.
    folder_version: Option<String>,
    now: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    with_new: Option<WithNew>,
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum WithNew {
    Same,
    After(String),
    Refused(String),
}

impl InUseArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let new = self.new.as_ref().map(|plan| named(&self.config, plan)).transpose()?;
        let (office, store) = self.config.open_to_read()?;
        let mut found = store.read_blocking(|view| in_use(&office, view, new.as_ref()))?;
        found.sort_by(|a, b| {
            (&a.plan, &a.version, &a.client).cmp(&(&b.plan, &b.version, &b.client))
        });
        if self.json {
            paper::print_json(&found)?;
        } else if found.is_empty() {
            paper::print("No follow-up runs.\n")?;
        } else {
            paper::print(&table(&found, new.is_some()).rendered(paper::colour()))?;
        }
        Ok(Exit::Done.into())
    }
}

fn in_use(
    office: &Office,
    view: &View<'_>,
    new: Option<&Plan>,
) -> Result<Vec<InUse>, CommandError> {
    let mut in_folder: HashMap<String, Option<String>> = HashMap::new();
    let mut found = Vec::new();
    for listed in who::all(view)? {
        let loaded = view.load(listed.follow_up)?;
        let stand = Stand::load(office, view, listed.follow_up, now())?;
        if stand.state.is_closed() {
            continue;
        }
        let id = stand.plan.id.clone();
        let of_folder = in_folder.entry(id.clone()).or_insert_with(|| {
            let file = office.clinic.plans_folder.join(format!("{id}.toml"));
            let read = read_plan(&file).ok()?;
            Some(plan_version(&read.value).as_str().to_owned())
        });
        let version = loaded.plan.as_str().to_owned();
        let folder_version = of_folder.clone();
        let with_new = new.map(|plan| {
            if plan_version(plan) == loaded.plan {
                return WithNew::Same;
            }
            let by = stand.cover.first();
            let by = by.expect("OK because a clinic file names at least one on cover");
            match adopting::preview(&stand.cover, &loaded, (by, plan), now()) {
                Err(refusal) => WithNew::Refused(refusal.to_string()),
                Ok(state) => {
                    let (plan, cover) = (std::sync::Arc::new(plan.clone()), stand.cover.clone());
                    let after = Stand::of(loaded.client.clone(), state, plan, cover);
                    WithNew::After(in_short(&after))
                }
            }
        });
        let now = in_short(&stand);
        let client = stand.client.to_string();
        found.push(InUse { client, plan: id, version, folder_version, now, with_new });
    }
    Ok(found)
}

fn table(found: &[InUse], with_new: bool) -> Table {
    /// As much of a version as tells it from others.
    const SHOWN: usize = 12;
    let short = |version: &str| version.chars().take(SHOWN).collect::<String>();
    let mut head = vec!["plan", "version", "in the folder", "client", "now"];
    if with_new {
        head.push("with the new one");
    }
    let mut table = Table::new(&head);
    for line in found {
        let mut row = vec![
            line.plan.as_str().into(),
            short(&line.version).into(),
            match &line.folder_version {
                Some(same) if *same == line.version => "the same".into(),
                Some(other) => Cell::inked(format!("another: {}", short(other)), Ink::Marked),
                None => Cell::inked("none that can be used", Ink::Marked),
            },
            line.client.as_str().into(),
            line.now.as_str().into(),
        ];
        if let Some(with_new) = &line.with_new {
            row.push(match with_new {
                WithNew::Same => Cell::inked("it is the same", Ink::Faint),
                WithNew::After(after) => after.as_str().into(),
                WithNew::Refused(why) => Cell::inked(format!("does not fit: {why}"), Ink::Marked),
            });
        }
        table.row(row);
    }
    table
}
