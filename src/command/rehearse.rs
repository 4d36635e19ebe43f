//! `fadewatch rehearse`: a scenario on paper.
//!
//! Never here: running it (that is `rehearsal`).
//! Promises: nothing is sent and nothing is stored.

use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::config;
use crate::rehearsal;

/// What `rehearse` is called with.
#[derive(Debug, Args)]
pub(super) struct Rehearse {
    /// The scenario file.
    scenario: PathBuf,
    /// Print one JSON object a line.
    #[arg(long)]
    json: bool,
}

impl Rehearse {
    pub(super) fn run(&self) -> ExitCode {
        let scenario = match config::read_scenario(&self.scenario) {
            Ok(checked) => checked,
            Err(problems) => {
                eprintln!("{problems}");
                return ExitCode::from(2);
            }
        };
        if !scenario.warnings.is_empty() {
            eprintln!("{}", scenario.warnings);
        }
        let rehearsal = rehearsal::rehearse(&scenario.value, |_, _| {
            crate::care::Verdict::bare(crate::care::Reading::Unclear)
        });
        let mut out = std::io::stdout().lock();
        for entry in &rehearsal.entries {
            if let Some(line) = rehearsal::json_line(&rehearsal.calendar, entry)
                && writeln!(out, "{line}").is_err()
            {
                return ExitCode::FAILURE;
            }
        }
        ExitCode::SUCCESS
    }
}
