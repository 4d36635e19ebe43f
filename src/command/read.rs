//! `fadewatch read`: how the service would understand a reply, with its reasons.
//!
//! Never here: the reading itself (`reply`).
//! Promises: with `--jsonl` one line of answer for each line of input, in order.

use std::io::{self, BufRead, Read as _, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use serde::{Deserialize, Serialize};

use crate::care::{Minutes, StepChoice};
use crate::reply::letter::{open, read_letter};
use crate::reply::{Answering, LexiconError, Lexicons, Read, UnknownAnswering, read};

/// Reads a reply from standard input and shows reading, sites, minutes, time, step and reasons.
#[derive(clap::Args, Debug)]
#[command(after_help = "Example:\n  echo 'a dark patch on the left hip' | fadewatch read --json")]
pub struct ReadArgs {
    /// What the reply answers: start, look, recheck or alert.
    #[arg(long, default_value = "look")]
    answering: Answering,
    /// The language to read it in first.
    #[arg(long, default_value = "en")]
    language: String,
    /// Standard input is one whole message, with its headers.
    #[arg(long, conflicts_with = "jsonl")]
    mail: bool,
    /// The answer as one JSON object.
    #[arg(long, conflicts_with = "jsonl")]
    json: bool,
    /// Standard input has one JSON object a line, with `id`, `answering` and `text`; so has the
    /// answer.
    #[arg(long)]
    jsonl: bool,
    /// A folder with one folder a language, to use instead of the languages inside the program.
    #[arg(long, value_name = "FOLDER")]
    languages: Option<PathBuf>,
}

/// Why a reply could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// Standard input or output.
    #[error("cannot read from standard input or write to standard output: {0}")]
    Stream(#[from] io::Error),
    /// A folder of languages.
    #[error("cannot read the languages in `{folder}`: {source}")]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A folder of languages without any.
    #[error("`{0}` has no language; each is a folder with a `lexicon.toml`")]
    NoLanguage(PathBuf),
    /// A language file.
    #[error("{source}{}", cause(.source))]
    Lexicon {
        /// What is wrong with it.
        #[from]
        source: LexiconError,
    },
    /// A line that is not one of ours.
    #[error(
        "line {line} of standard input is not an object with `id`, `answering` and `text`: {source}"
    )]
    Line {
        /// Counted from 1.
        line: usize,
        /// What the parser says.
        source: serde_json::Error,
    },
    /// A line that answers nothing we send.
    #[error("line {line} of standard input: {source}")]
    Answering {
        /// Counted from 1.
        line: usize,
        /// The name.
        source: UnknownAnswering,
    },
}

/// Runs the command.
///
/// # Errors
/// When standard input cannot be read, a line is not one of ours, or a language cannot be used.
pub fn run(args: &ReadArgs) -> Result<ExitCode, ReadError> {
    let lexicons = match &args.languages {
        Some(folder) => from_folder(folder)?,
        None => Lexicons::shipped(),
    };
    if args.jsonl {
        return read_lines(&lexicons, &args.language);
    }
    let mut input = Vec::new();
    io::stdin().lock().read_to_end(&mut input)?;
    let found = if args.mail {
        read_letter(&lexicons, &args.language, args.answering, &open(&input), None)
    } else {
        read(&lexicons, &args.language, args.answering, &String::from_utf8_lossy(&input))
    };
    let answer = Answer::of(None, found);
    let shown = if args.json { answer.json() } else { answer.plain() };
    writeln!(io::stdout().lock(), "{shown}")?;
    Ok(ExitCode::SUCCESS)
}

fn read_lines(lexicons: &Lexicons, language: &str) -> Result<ExitCode, ReadError> {
    let mut out = io::BufWriter::new(io::stdout().lock());
    for (i, text) in io::stdin().lock().lines().enumerate() {
        let (line, text) = (i + 1, text?);
        if text.trim().is_empty() {
            continue;
        }
        let asked: Asked =
            serde_json::from_str(&text).map_err(|source| ReadError::Line { line, source })?;
        let answering =
            asked.answering.parse().map_err(|source| ReadError::Answering { line, source })?;
        let found = read(lexicons, language, answering, &asked.text);
        writeln!(out, "{}", Answer::of(Some(asked.id), found).json())?;
    }
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}

/// The languages in a folder, by the names of their folders.
fn from_folder(folder: &Path) -> Result<Lexicons, ReadError> {
    let failed = |source| ReadError::Folder { folder: folder.to_owned(), source };
    let mut texts: Vec<(String, String)> = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let file = entry.path().join("lexicon.toml");
        if file.is_file() {
            let code = entry.file_name().to_string_lossy().into_owned();
            texts.push((code, std::fs::read_to_string(&file).map_err(failed)?));
        }
    }
    if texts.is_empty() {
        return Err(ReadError::NoLanguage(folder.to_owned()));
    }
    texts.sort();
    Ok(Lexicons::parse(texts.iter().map(|(code, text)| (code.as_str(), text.as_str())))?)
}

fn cause(error: &LexiconError) -> String {
    std::error::Error::source(error).map_or_else(String::new, |source| format!(": {source}"))
}

/// One line of input. Other keys, such as those of a labelled fixture, are passed over.
#[derive(Deserialize)]
struct Asked {
    id: String,
    answering: String,
    text: String,
}

/// The answer, with its keys in the order in which they are written.
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
            StepChoice::Step(number) => serde_json::json!({ "step": number }),
            StepChoice::Minutes(minutes) => serde_json::json!({ "minutes": minutes.count() }),
        });
        Self {
            id,
            reading: verdict.reading.to_string(),
            sites: verdict.sites.iter().map(ToString::to_string).collect(),
            minutes: verdict.minutes.map(Minutes::count),
            at: verdict.stated_at.map(|time| time.format("%H:%M").to_string()),
            step,
            because: read.because,
        }
    }

    fn json(&self) -> String {
        serde_json::to_string(self).expect("OK because text, numbers and lists always print")
    }

    fn plain(&self) -> String {
        let mut lines = vec![format!("reading: {}", self.reading)];
        if !self.sites.is_empty() {
            lines.push(format!("sites:   {}", self.sites.join(", ")));
        }
        if let Some(minutes) = self.minutes {
            lines.push(format!("minutes: {minutes}"));
        }
        if let Some(at) = &self.at {
            lines.push(format!("at:      {at}"));
        }
        if let Some(step) = &self.step {
            lines.push(format!("step:    {step}"));
        }
        lines.push(format!("because: {}", self.because.join(" / ")));
        lines.join("\n")
    }
}
