//! `fadewatch health`: whether the service does its work, for people and for monitors outside.
//!
//! Never here: what is checked (`overview::health`), repairing anything.
//! Promises: one line a check; the exit code is 0 only when all of them are well; no names, no
//! words of people.

use std::process::ExitCode;

use clap::Args;

use super::exit::Exit;
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::table::{Cell, Ink, Table};
use crate::overview::health::{Health, checks};
use crate::service::data;
use crate::store::Mode;

/// What `health` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fadewatch health\n  fadewatch health --json || page-somebody\n  \
    fadewatch health --metrics > fadewatch.prom"
)]
pub(super) struct HealthArgs {
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print Prometheus text, for a collector that reads a file.
    #[arg(long, conflicts_with = "json")]
    metrics: bool,
    #[command(flatten)]
    config: ConfigOption,
}

impl HealthArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let clinic = self.config.clinic()?;
        let now = now();
        let looked = data::open(&clinic, Mode::Reading)
            .and_then(|store| Ok(store.read_blocking(|view| checks(view, &clinic, now))?));
        let health = Health::of(&clinic, looked, now);
        if self.metrics {
            paper::print(&health.metrics())?;
        } else if self.json {
            paper::print_json(&health)?;
        } else {
            let mut table = Table::new(&["check", "state", "fact"]);
            for check in health.checks {
                let state = if check.well { "well" } else { "NOT WELL" };
                let ink = if check.well { Ink::Plain } else { Ink::Strong };
                table.row(vec![check.check.into(), Cell::inked(state, ink), check.fact.into()]);
            }
            paper::print(&table.rendered(paper::colour()))?;
        }
        Ok(if health.well { Exit::Done } else { Exit::Unwell }.into())
    }
}
