//! `fadewatch due`: what is due next, for all clients.
//!
//! Never here: doing it.
//! Promises: the soonest first; what is overdue says so.

use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::cover;
use super::exit::Exit;
use super::moments::{lasted, moment, stamp};
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::standing::Stand;
use super::table::{Cell, Ink, Table};
use super::who;
use crate::follow_up::Instant;
use crate::service::ServiceError;
use crate::service::due::LATE_MAX;

/// What `due` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch due --limit 20")]
pub(super) struct DueArgs {
    /// At most so many clients.
    #[arg(long, value_name = "N")]
    limit: Option<usize>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct DueJson {
    client: String,
    due: String,
    what: String,
    overdue: bool,
}

impl DueArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open_to_read()?;
        let now = now();
        let mut stands = store.read_blocking(|view| {
            let mut listed = who::all(view)?;
            listed.retain(|listed| listed.next_due.is_some());
            listed.sort_by_key(|listed| listed.next_due);
            listed.truncate(self.limit.unwrap_or(usize::MAX));
            let load =
                |listed: crate::store::Listed| Stand::load(&office, view, listed.follow_up, now);
            listed.into_iter().map(load).collect::<Result<Vec<_>, ServiceError>>()
        })?;
        stands.retain(|stand| stand.next.is_some());
        if self.json {
            paper::print_json(&stands.iter().filter_map(|s| json(s, now)).collect::<Vec<_>>())?;
        } else if stands.is_empty() {
            paper::print("Nothing is due.\n")?;
        } else {
            let mut table = Table::new(&["due", "clock of", "client", "what", ""]);
            for stand in &stands {
                table.row(row(stand, now));
            }
            paper::print(&table.rendered(paper::colour()))?;
            let on_cover = cover::on_cover_now(&office, &store, now)?;
            paper::print(&format!("\n{on_cover}\n"))?;
        }
        Ok(Exit::Done.into())
    }
}

fn json(stand: &Stand, now: Instant) -> Option<DueJson> {
    let (at, _) = stand.next?;
    Some(DueJson {
        client: stand.client.to_string(),
        due: stamp(&stand.state.terms.zone, at),
        what: stand.next_in_words()?,
        overdue: now - at > LATE_MAX,
    })
}

fn row(stand: &Stand, now: Instant) -> Vec<Cell> {
    let zone = &stand.state.terms.zone;
    let at = stand.next.map(|(at, _)| at);
    let late = at.filter(|at| now - *at > LATE_MAX);
    let late = late.map(|at| format!("OVERDUE for {}", lasted(at, now))).unwrap_or_default();
    vec![
        Cell::maybe(at.map(|at| moment(zone, at))),
        zone.zone_name().into(),
        stand.client.to_string().into(),
        stand.next_in_words().unwrap_or_default().into(),
        Cell::inked(late, Ink::Strong),
    ]
}
