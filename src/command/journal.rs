//! `fadewatch journal`: the record of one follow-up in plain words, and the check of all records.
//!
//! Never here: changing the record (nothing can).
//! Promises: each line names its time, rule and cause; a record that was tampered with shows in
//! the exit code.

use std::process::ExitCode;

use clap::{Args, Subcommand};
use serde::Serialize;

use super::exit::Exit;
use super::journal_lines;
use super::paper;
use super::progress::Progress;
use super::setting::{CommandError, ConfigOption};
use super::who;

/// Entries read where not all are asked for.
const ENTRIES_READ: u64 = 200;
/// Lines shown where not all are asked for.
const LINES_SHOWN: usize = 40;

/// What `journal` is called with.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:\n  fadewatch journal A7\n  fadewatch journal A7 --all --json\n  \
        fadewatch journal verify"
)]
pub(super) struct JournalArgs {
    #[command(subcommand)]
    check: Option<Check>,
    #[command(flatten)]
    read: ReadJournal,
}

#[derive(Debug, Args)]
struct ReadJournal {
    /// The client's reference.
    #[arg(required = true)]
    client: Option<String>,
    /// All entries from enrolment on, those that only keep the books too.
    #[arg(long)]
    all: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Debug, Subcommand)]
enum Check {
    /// Check every record: each entry's hash, each link, each end.
    #[command(after_help = "Example:\n  fadewatch journal verify && echo untouched")]
    Verify {
        /// Print JSON.
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        config: ConfigOption,
    },
}

#[derive(Serialize)]
struct Verified {
    untouched: bool,
    entries: u64,
    findings: Vec<String>,
}

impl JournalArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        match &self.check {
            Some(Check::Verify { json, config }) => verify(config, *json),
            None => self.read.run(),
        }
    }
}

impl ReadJournal {
    fn run(&self) -> Result<ExitCode, CommandError> {
        let (_, store) = self.config.open_to_read()?;
        let reference = self.client.as_deref().unwrap_or_default();
        let limit = if self.all { u64::MAX } else { ENTRIES_READ };
        let mut lines = store.read_blocking(|view| -> Result<_, CommandError> {
            let follow_up = who::client(view, reference)?;
            let zone = view.load(follow_up)?.state.terms.zone;
            Ok(journal_lines::newest(view, follow_up, &zone, limit)?)
        })?;
        let mut cut = false;
        if !self.all {
            cut = lines.len() as u64 == limit;
            lines.retain(|line| !line.keeps_the_books);
            let first = lines.len().saturating_sub(LINES_SHOWN);
            cut |= first > 0;
            lines.drain(..first);
        }
        if self.json {
            paper::print_json(&lines)?;
        } else {
            let older = if cut { "There are older entries; `--all` shows all.\n" } else { "" };
            let table = journal_lines::table(&lines).rendered(paper::colour());
            paper::print(&format!("{older}{table}"))?;
        }
        Ok(Exit::Done.into())
    }
}

fn verify(config: &ConfigOption, json: bool) -> Result<ExitCode, CommandError> {
    let (_, store) = config.open_to_read()?;
    let progress = Progress::of("checking the journal");
    let verification = store.read_blocking(|view| view.verify_journal())?;
    drop(progress);
    let findings: Vec<String> = verification.findings.iter().map(ToString::to_string).collect();
    let exit = if findings.is_empty() { Exit::Done } else { Exit::Unwell };
    let entries = verification.entries;
    if json {
        paper::print_json(&Verified { untouched: findings.is_empty(), entries, findings })?;
    } else if findings.is_empty() {
        paper::print(&format!("{entries} entries, all as they were written.\n"))?;
    } else {
        for finding in &findings {
            paper::print(&format!("{finding}\n"))?;
        }
        eprintln!(
            "fadewatch: the journal is not as it was written\nhint: keep a copy of the data \
             folder, then compare it with the newest backup"
        );
    }
    Ok(exit.into())
}
