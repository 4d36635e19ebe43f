//! `fadewatch export` and `fadewatch calendar`: what is known of one client, for other programs.
//!
//! Never here: the formats (`export`).
//! Promises: a file that is written can be read by its owner only; one that is there is not written
//! over.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::paper;
use super::progress::Progress;
use super::setting::{CommandError, ConfigOption, now};
use super::who;
use crate::care::ClientRef;
use crate::export::{self, Dossier};
use crate::notice::{Agenda, CalendarFile};
use crate::service::Office;

/// What `export` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fadewatch export A7 --out a7.json\n  fadewatch export A7 --csv \
    --out a7-looks.csv\n  fadewatch export A7 --fhir --out a7-bundle.json\n\nWithout a format: \
    everything on file about the client as JSON, names and words too.\nWith --csv or --fhir: no \
    names and no words of people."
)]
pub(super) struct ExportArgs {
    /// The client's reference.
    client: String,
    /// The looks for a spreadsheet, one line a look.
    #[arg(long)]
    csv: bool,
    /// An HL7 FHIR R4 bundle.
    #[arg(long, conflicts_with = "csv")]
    fhir: bool,
    /// Everything on file as JSON, as without any format.
    #[arg(long, conflicts_with_all = ["csv", "fhir"])]
    json: bool,
    /// Write to a new file instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    #[command(flatten)]
    config: ConfigOption,
}

/// What `calendar` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch calendar A7 --out a7.ics\n  fadewatch calendar A7 \
    --days 30 --language es --out a7.ics\n\nRead in again after a change, the file moves the entries \
    in a calendar and adds none twice.")]
pub(super) struct CalendarArgs {
    /// The client's reference.
    client: String,
    /// How many days ahead, today included.
    #[arg(long, value_name = "N", default_value_t = 14, value_parser = clap::value_parser!(u32).range(1..=366))]
    days: u32,
    /// The language of the entries, such as `en` or `de`.
    #[arg(long, value_name = "TAG", default_value = "en")]
    language: String,
    /// Write to a new file instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Print JSON: the file as a text, and how many entries it has.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct CalendarJson<'a> {
    client: &'a ClientRef,
    entries: usize,
    calendar: String,
}

impl ExportArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (_, dossier) = dossier(&self.config, &self.client)?;
        let bytes = if self.csv {
            export::csv(&dossier)
        } else if self.fhir {
            format!("{:#}\n", export::fhir(&dossier)).into_bytes()
        } else {
            format!("{:#}\n", export::json(&dossier)).into_bytes()
        };
        put(self.out.as_deref(), &bytes)
    }
}

impl CalendarArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, dossier) = dossier(&self.config, &self.client)?;
        let agenda = Agenda::new(&office.languages, &self.language, &dossier.client);
        let mut calendar = CalendarFile::new(&agenda.name());
        calendar.add(&dossier.planned(agenda, self.days));
        let text = if self.json {
            let (client, entries) = (&dossier.client, calendar.entries());
            paper::json(&CalendarJson { client, entries, calendar: calendar.text() })
        } else {
            calendar.text()
        };
        put(self.out.as_deref(), text.as_bytes())
    }
}

fn dossier(config: &ConfigOption, client: &str) -> Result<(Office, Dossier), CommandError> {
    let (office, store) = config.open_to_read()?;
    let _progress = Progress::of("reading the client's file");
    let dossier = store.read_blocking(|view| -> Result<_, CommandError> {
        let follow_up = who::client(view, client)?;
        Ok(Dossier::read(&office, view, follow_up, now())?)
    })?;
    Ok((office, dossier))
}

fn put(out: Option<&Path>, bytes: &[u8]) -> Result<ExitCode, CommandError> {
    let Some(path) = out else {
        paper::print_bytes(bytes)?;
        return Ok(Exit::Done.into());
    };
    let opened = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
    let mut file = opened.map_err(|error| match error.kind() {
        ErrorKind::AlreadyExists => CommandError::Refused(format!(
            "{} is there already; nothing was written\nhint: name another file, or move it away",
            path.display()
        )),
        _ => CommandError::Output(error),
    })?;
    file.write_all(bytes)?;
    file.sync_all()?;
    Ok(Exit::Done.into())
}
