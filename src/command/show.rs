//! `fadewatch show`: how all follow-ups stand, or one in full.
//!
//! Never here: the page of one client (`client_page`).
//! Promises: nothing is changed; who needs somebody comes first.

use std::process::ExitCode;

use clap::Args;

use super::client_page::ClientPage;
use super::cover;
use super::exit::Exit;
use super::moments::moment;
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::standing::{Stand, Waiting};
use super::table::{Cell, Ink, Table};
use super::who;
use crate::follow_up::Instant;
use crate::service::ServiceError;

/// What `show` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch show\n  fadewatch show A7\n  fadewatch show --json")]
pub(super) struct ShowArgs {
    /// The client's reference; without it all clients are listed.
    client: Option<String>,
    /// List ended follow-ups too.
    #[arg(long, conflicts_with = "client")]
    all: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

impl ShowArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open_to_read()?;
        let now = now();
        if let Some(reference) = &self.client {
            let page = store.read_blocking(|view| {
                let follow_up = who::client(view, reference)?;
                ClientPage::read(&office, view, follow_up)
            })?;
            if self.json {
                paper::print_json(&page.json())?;
            } else {
                paper::print(&page.rendered(now, paper::colour()))?;
            }
            return Ok(Exit::Done.into());
        }
        let mut stands = store.read_blocking(|view| {
            who::all(view)?
                .into_iter()
                .map(|listed| Stand::load(&office, view, listed.follow_up, now))
                .collect::<Result<Vec<_>, ServiceError>>()
        })?;
        let ended = stands.iter().filter(|stand| stand.state.is_closed()).count();
        stands.retain(|stand| self.all || !stand.state.is_closed());
        stands.sort_by_key(Stand::order);
        if self.json {
            paper::print_json(&stands.iter().map(Stand::json).collect::<Vec<_>>())?;
        } else {
            let ended = if self.all { 0 } else { ended };
            paper::print(&listed(&stands, office.calendar.zone_name(), ended, now))?;
            let on_cover = cover::on_cover_now(&office, &store, now)?;
            paper::print(&format!("\n{on_cover}\n"))?;
        }
        Ok(Exit::Done.into())
    }
}

fn listed(stands: &[Stand], clinic_zone: &str, ended: usize, now: Instant) -> String {
    let more = match ended {
        0 => String::new(),
        1 => "1 follow-up has ended; `--all` lists it too.\n".to_owned(),
        ended => format!("{ended} follow-ups have ended; `--all` lists them too.\n"),
    };
    if stands.is_empty() {
        return format!("No follow-up runs.\n{more}");
    }
    let abroad = stands.iter().any(|stand| stand.state.terms.zone.zone_name() != clinic_zone);
    let mut head = vec!["client", "standing", "step", "run", "alert", "waits for", "next due", ""];
    if abroad {
        head.push("clock of");
    }
    let mut table = Table::new(&head);
    for stand in stands {
        table.row(row(stand, abroad, now));
    }
    format!("{}{more}", table.rendered(paper::colour()))
}

fn row(stand: &Stand, abroad: bool, now: Instant) -> Vec<Cell> {
    let zone = &stand.state.terms.zone;
    let alert = match stand.alert() {
        "none" => Cell::maybe(None),
        "open" => Cell::inked("OPEN", Ink::Strong),
        other => Cell::inked(other, Ink::Marked),
    };
    let waits = match stand.waiting() {
        None => Cell::maybe(None),
        Some((what, _)) => {
            let text = stand.waiting_in_words(now).unwrap_or_default();
            let loud = matches!(what, Waiting::Clinician | Waiting::Decision);
            Cell::inked(text, if loud { Ink::Strong } else { Ink::Marked })
        }
    };
    let mut row = vec![
        stand.client.to_string().into(),
        Cell::inked(stand.standing(), (&stand.state.standing).into()),
        stand.step().into(),
        Cell::maybe(stand.run()),
        alert,
        waits,
        Cell::maybe(stand.next.map(|(at, _)| moment(zone, at))),
        stand.next_in_words().unwrap_or_default().into(),
    ];
    if abroad {
        row.push(zone.zone_name().into());
    }
    row
}
