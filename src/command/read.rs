//! `fadewatch read`: how the service would understand a reply, with its reasons.
//!
//! Never here: the reading itself (`reply`).
//! Promises: with `--jsonl` one line of answer for each line of input, in order.

use std::io::{self, BufRead, Read as _, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use serde::{Deserialize, Serialize};

use crate::care::StepChoice;
use crate::reply::{Answering, Lexicons, Read, read};

/// Reads a reply from standard input and shows reading, sites, minutes, time, step and reasons.
#[derive(clap::Args, Debug)]
pub struct ReadArgs {
    /// What the reply answers: start, look, recheck or alert.
    #[arg(long, default_value = "look")]
    answering: Answering,
    /// The language to read it in first.
    #[arg(long, default_value = "en")]
    language: String,
    /// One JSON object a line with `id`, `answering` and `text`.
    #[arg(long)]
    jsonl: bool,
    /// The answer as one JSON object.
    #[arg(long, conflicts_with = "jsonl")]
    json: bool,
    /// A folder of language folders to use instead of the shipped languages.
    #[arg(long, value_name = "FOLDER")]
    languages: Option<PathBuf>,
}

/// Why a reply could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// Standard input or output.
    #[error("cannot read the reply from standard input or write the answer")]
    Stream(#[from] io::Error),
}

#[derive(Deserialize)]
struct Line {
    id: String,
    answering: String,
    text: String,
    #[serde(default)]
    lang: Option<String>,
}

/// The answer, keys in this order.
#[derive(Serialize)]
struct Answer {
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<String>,
    reading: String,
    sites: Vec<String>,
    minutes: Option<u32>,
    at: Option<String>,
    step: Option<serde_json::Value>,
    because: Vec<String>,
}
impl Answer {
    fn of(id: Option<String>, read: Read) -> Self {
        let verdict = read.verdict;
        let step = verdict.step.map(|step| match step {
            StepChoice::Step(n) => serde_json::json!({ "step": n }),
            StepChoice::Minutes(m) => serde_json::json!({ "minutes": m.count() }),
        });
        Self {
            id,
            reading: verdict.reading.to_string(),
            sites: verdict.sites.iter().map(ToString::to_string).collect(),
            minutes: verdict.minutes.map(crate::care::Minutes::count),
            at: verdict.stated_at.map(|t| t.format("%H:%M").to_string()),
            step,
            because: read.because,
        }
    }
}

/// Runs the command.
pub fn run(args: &ReadArgs) -> Result<ExitCode, ReadError> {
    let lexicons = Lexicons::shipped();
    let mut out = io::stdout().lock();
    for line in io::stdin().lock().lines() {
        let line: Line = serde_json::from_str(&line?).expect("json");
        let language = line.lang.as_deref().unwrap_or(&args.language);
        let read = read(&lexicons, language, line.answering.parse().expect("kind"), &line.text);
        writeln!(out, "{}", serde_json::to_string(&Answer::of(Some(line.id), read)).expect("json"))?;
    }
    Ok(ExitCode::SUCCESS)
}
