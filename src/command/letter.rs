//! `fadewatch letter`: the follow-up report of one client, for the record or the funder.
//!
//! Never here: what it says (`notice::letter`).
//! Promises: nothing is changed; a fitting that cannot be read is said, and the report goes
//! without it.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::who;
use crate::follow_up::Instant;
use crate::notice::{self, Letter, LetterOf, Setting};
use crate::service::Office;
use crate::service::reviewing::three_lines;
use crate::store::{Loaded, View};

/// What `letter` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch letter A7 --out a7.html\n  \
    fadewatch letter A7 --text\n\nThe HTML prints to two pages of A4 from any browser.")]
pub(super) struct LetterArgs {
    /// The client's reference.
    client: String,
    /// Write the report to a file instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// As plain text, the pictures in words.
    #[arg(long)]
    text: bool,
    /// Print JSON: the report in both forms.
    #[arg(long, conflicts_with = "text")]
    json: bool,
    /// The language of the report, such as `en` or `de`.
    #[arg(long, value_name = "TAG", default_value = "en")]
    language: String,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct LetterJson<'a> {
    client: &'a str,
    language: &'a str,
    html: &'a str,
    text: &'a str,
}

impl LetterArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open_to_read()?;
        paper::known_language(&office.languages, &self.language)?;
        let now = now();
        let letter = store.read_blocking(|view| {
            let loaded = who::loaded(view, &self.client)?;
            self.written(&office, view, &loaded, now)
        })?;
        let report = match (self.json, self.text) {
            (true, _) => paper::json(&LetterJson {
                client: &self.client,
                language: &self.language,
                html: &letter.html,
                text: &letter.text,
            }),
            (false, true) => letter.text,
            (false, false) => letter.html,
        };
        match &self.out {
            None => paper::print(&report)?,
            Some(path) => paper::write(path, &report)?,
        }
        Ok(Exit::Done.into())
    }

    fn written(
        &self,
        office: &Office,
        view: &View<'_>,
        loaded: &Loaded,
        now: Instant,
    ) -> Result<Letter, CommandError> {
        let follow_up = loaded.follow_up;
        let plan = office.plan(view, &loaded.plan)?;
        let journal = view.journal_of(follow_up)?;
        let entries: Vec<_> = journal.into_iter().map(|line| line.entry).collect();
        let kept = view.fitting(follow_up).unwrap_or_else(|_| {
            paper::warn("the fitting on file cannot be read; the report goes without it");
            None
        });
        let fitting = kept.map_or_else(Vec::new, |kept| three_lines(office, &kept, &self.language));
        let call_name = view.call_name(follow_up)?.unwrap_or_default();
        let client = notice::Client::new(loaded.client.clone(), &call_name);
        let contacts = std::collections::BTreeMap::new();
        let setting = Setting {
            languages: &office.languages,
            clinic: &office.about,
            client: &client,
            contacts: &contacts,
            clinicians: &office.clinicians,
        };
        Ok(notice::letter(LetterOf {
            state: &loaded.state,
            plan: &plan,
            entries: &entries,
            setting: &setting,
            fitting: &fitting,
            language: &self.language,
            now,
        }))
    }
}
