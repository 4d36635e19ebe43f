//! `fadewatch cover`: who gets alerts on which days.
//!
//! Never here: what a change of cover leads to (`service::covering`).
//! Promises: only somebody who may decide is put on cover; what was set is shown as it now stands.

use std::process::ExitCode;

use chrono::NaiveDate;
use clap::{Args, Subcommand};
use serde::Serialize;

use super::exit::Exit;
use super::outcome;
use super::paper;
use super::said_by::SaidBy;
use super::setting::{CommandError, ConfigOption, now};
use super::table::{Cell, Ink, Table};
use super::who::{self, Act};
use crate::care::ClinicianId;
use crate::care::rota::{Rota, Shift};
use crate::follow_up::Instant;
use crate::service::Office;
use crate::service::covering::{self, ShiftFault};
use crate::store::Store;

/// What `cover` is called with.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:\n  fadewatch cover\n  fadewatch cover set duty seating --from 2026-03-06 \
    --until 2026-03-08 --by desk\n  fadewatch cover usual --from 2026-03-08 --by desk\n\nOn all \
    other days the order in the clinic file counts. A client with a cover of their own\nkeeps it."
)]
pub(super) struct CoverArgs {
    #[command(subcommand)]
    what: Option<What>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Say who is on cover on some days, in calling order.
    #[command(
        after_help = "Example:\n  fadewatch cover set duty --from 2026-03-06 --until 2026-03-08 \
        --by desk"
    )]
    Set {
        /// The clinicians, the first to be called first.
        #[arg(required = true)]
        clinicians: Vec<String>,
        #[command(flatten)]
        days: DaysArgs,
    },
    /// Have the usual order of the clinic file on some days again.
    #[command(after_help = "Example:\n  fadewatch cover usual --from 2026-03-08 --by desk")]
    Usual {
        #[command(flatten)]
        days: DaysArgs,
    },
}

#[derive(Debug, Args)]
struct DaysArgs {
    /// The first day, by the clinic's clock; without it, today.
    #[arg(long, value_name = "DAY")]
    from: Option<NaiveDate>,
    /// The last day; without it, the first day alone.
    #[arg(long, value_name = "DAY")]
    until: Option<NaiveDate>,
    #[command(flatten)]
    said: SaidBy,
}

#[derive(Serialize)]
struct CoverJson {
    now: Vec<ClinicianId>,
    usual: Vec<ClinicianId>,
    ahead: Vec<Shift>,
}

impl CoverArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        match &self.what {
            None => {
                let (office, store) = self.config.open_to_read()?;
                show(&office, &store, self.json)?;
                Ok(Exit::Done.into())
            }
            Some(What::Set { clinicians, days }) => days.set(clinicians),
            Some(What::Usual { days }) => days.set(&[]),
        }
    }
}

impl DaysArgs {
    fn set(&self, clinicians: &[String]) -> Result<ExitCode, CommandError> {
        let (office, store) = self.said.config.open()?;
        let by = who::staff(&office.clinic, &self.said.by, Act::Report)?;
        let now = now();
        let mut cover: Vec<ClinicianId> = Vec::new();
        for id in clinicians {
            let clinician = who::staff(&office.clinic, id, Act::Decide)?;
            if cover.contains(&clinician) {
                let what = format!("`{id}` is named twice; nothing was changed");
                return Err(CommandError::BadInput(what));
            }
            cover.push(clinician);
        }
        let shift = self.shift(cover, office.calendar.date(now))?;
        let office = std::sync::Arc::new(office);
        let working = std::sync::Arc::clone(&office);
        store.write_blocking(move |tx| covering::set_shift(&working, tx, (&by, shift), now))?;
        show(&office, &store, self.said.json)?;
        outcome::warn_if_away(&store, now)?;
        store.close();
        Ok(Exit::Done.into())
    }

    fn shift(&self, cover: Vec<ClinicianId>, today: NaiveDate) -> Result<Shift, CommandError> {
        let from = self.from.unwrap_or(today);
        let until = self.until.unwrap_or(from);
        covering::shift(from, until, cover, today).map_err(|fault| {
            let hint = match fault {
                ShiftFault::Backwards => format!("from {until} until {from}?"),
                ShiftFault::Over => format!("today is {today} at the clinic"),
                ShiftFault::FarAhead => format!("today is {today}"),
            };
            CommandError::BadInput(format!("{fault}; nothing was changed\nhint: {hint}"))
        })
    }
}

fn show(office: &Office, store: &Store, json: bool) -> Result<(), CommandError> {
    let rota = store.read_blocking(|view| view.rota())?;
    let today = office.calendar.date(now());
    let usual = office.clinic.cover.clone();
    let (now, ahead) = (covering::on(office, &rota, today), rota.ahead(today));
    if json {
        return paper::print_json(&CoverJson { now, usual, ahead });
    }
    let mut text = format!("{}\nUsual order: {}\n", on_now(office, &rota, today), names(&usual));
    let mut table = Table::new(&["from", "until", "on cover"]);
    for shift in &ahead {
        let gone = covering::on(office, &rota, shift.from) != shift.cover;
        let note = if gone { " (somebody of them may not decide any more)" } else { "" };
        let ink = if gone { Ink::Strong } else { Ink::Plain };
        table.row(vec![
            shift.from.to_string().into(),
            shift.until.to_string().into(),
            Cell::inked(format!("{}{note}", names(&shift.cover)), ink),
        ]);
    }
    if !table.is_empty() {
        text.push_str(&format!("\n{}", table.rendered(paper::colour())));
    }
    paper::print(&text)
}

/// `On cover now: duty, then seating (until 2026-03-08).`
pub(super) fn on_cover_now(
    office: &Office,
    store: &Store,
    now: Instant,
) -> Result<String, CommandError> {
    let rota = store.read_blocking(|view| view.rota())?;
    Ok(on_now(office, &rota, office.calendar.date(now)))
}

fn on_now(office: &Office, rota: &Rota, today: NaiveDate) -> String {
    let on = names(&covering::on(office, rota, today));
    match rota.ahead(today).first().filter(|shift| shift.is_on(today)) {
        Some(shift) => format!("On cover now: {on} (until {})", shift.until),
        None => format!("On cover now: {on}"),
    }
}

/// `duty, then seating`.
fn names(cover: &[ClinicianId]) -> String {
    let names: Vec<&str> = cover.iter().map(ClinicianId::as_str).collect();
    names.join(", then ")
}
