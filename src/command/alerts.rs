//! `fadewatch alerts`: alerts that are not decided: since when, to whom how often, taken up by.
//!
//! Never here: acknowledging (`decide`).
//! Promises: those that nobody has taken up come first.

use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::client_page::{AlertJson, alert_json};
use super::exit::Exit;
use super::moments::moment;
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::standing::Stand;
use super::table::{Cell, Ink, Table};
use super::who;
use crate::rehearsal::phrases::alert_cause;
use crate::store::{Listed, ListedAlert};

/// What `alerts` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch alerts")]
pub(super) struct AlertsArgs {
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct OfClient {
    client: String,
    #[serde(flatten)]
    alert: AlertJson,
}

impl AlertsArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open_to_read()?;
        let mut stands = store.read_blocking(|view| {
            let mut listed = who::all(view)?;
            listed.retain(|listed| listed.alert != ListedAlert::None);
            let (office, now) = (&office, now());
            let load = |listed: &Listed| Stand::load(office, view, listed.follow_up, now);
            Ok::<_, CommandError>(listed.iter().map(load).collect::<Result<Vec<_>, _>>()?)
        })?;
        stands.sort_by_key(Stand::order);
        if self.json {
            let of_client = |stand: &Stand| {
                let client = stand.client.to_string();
                alert_json(stand).map(|alert| OfClient { client, alert })
            };
            paper::print_json(&stands.iter().filter_map(of_client).collect::<Vec<_>>())?;
        } else if stands.is_empty() {
            paper::print("No alert is open.\n")?;
        } else {
            let head = ["client", "alert", "about", "raised", "sent", "taken up by"];
            let mut table = Table::new(&head);
            for stand in &stands {
                table.row(row(stand));
            }
            paper::print(&table.rendered(paper::colour()))?;
            let waiting = stands.iter().filter(|stand| stand.alert() == "open").count();
            if waiting > 0 {
                paper::print("`fadewatch decide CLIENT seen --by CLINICIAN` takes one up.\n")?;
            }
        }
        Ok(Exit::Done.into())
    }
}

fn row(stand: &Stand) -> Vec<Cell> {
    let zone = &stand.state.terms.zone;
    let alert = stand.state.alert.as_ref().expect("OK because only follow-ups with one are listed");
    let sent = alert.sent.iter().map(|(who, count)| format!("{count}× {who}"));
    let taken = alert.acknowledged.as_ref();
    vec![
        stand.client.to_string().into(),
        match taken {
            None => Cell::inked("OPEN", Ink::Strong),
            Some(_) => Cell::inked("not decided", Ink::Marked),
        },
        alert_cause(alert.cause).into(),
        moment(zone, alert.raised_at).into(),
        sent.collect::<Vec<_>>().join(", ").into(),
        Cell::maybe(taken.map(|(by, at)| format!("{by}, {}", moment(zone, *at)))),
    ]
}
