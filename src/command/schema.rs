//! `fadewatch schema`: JSON Schemas of the TOML files that a clinic writes, for editors.
//!
//! Never here: what stands in them (the rooms that read them say).
//! Promises: a file is written over only by its own newer form.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::PossibleValuesParser;
use clap::{Args, builder::TypedValueParser as _};
use serde_json::{Map, Value};

use super::exit::Exit;
use super::paper;
use super::setting::CommandError;
use crate::config::{SettingsFile, schema_of_texts};
use crate::notice::Wording;
use crate::reply::Lexicon;
use crate::review::Words;

/// What `schema` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch schema clinic > clinic.schema.json\n  \
    fadewatch schema --folder schemas\n\nMany editors find a schema by a comment on the first line \
    of the TOML file:\n  #:schema ./clinic.schema.json\nThe service's own check says more: it also \
    knows what hangs on two settings.")]
pub(super) struct SchemaArgs {
    /// The kind of file.
    #[arg(required_unless_present = "folder", value_parser = kinds())]
    file: Option<TomlFile>,
    /// Write the schemas of all kinds into this folder instead, each as KIND.schema.json.
    #[arg(long, value_name = "DIR", conflicts_with = "file")]
    folder: Option<PathBuf>,
    /// Print JSON, as without it: a schema is JSON. With --folder: the files that were written.
    #[arg(long)]
    json: bool,
}

/// A kind of TOML file that a clinic may write.
#[derive(Clone, Copy, Debug)]
enum TomlFile {
    Settings(SettingsFile),
    /// What the mails say in a language.
    Wording,
    /// What is said of a fitting in a language.
    FittingWords,
    /// By which words replies in a language are read.
    Lexicon,
}

impl TomlFile {
    fn all() -> impl Iterator<Item = Self> {
        let settings = SettingsFile::ALL.into_iter().map(Self::Settings);
        settings.chain([Self::Wording, Self::FittingWords, Self::Lexicon])
    }

    fn name(self) -> &'static str {
        match self {
            Self::Settings(kind) => kind.name(),
            Self::Wording => "wording",
            Self::FittingWords => "fitting-words",
            Self::Lexicon => "lexicon",
        }
    }

    fn schema(self) -> Value {
        match self {
            Self::Settings(kind) => kind.schema(),
            Self::Wording => {
                let language = [("language".to_owned(), Wording::language_schema())];
                schema_of_texts("wording", Wording::keys(), language.into_iter().collect())
            }
            Self::FittingWords => schema_of_texts("fitting-words", Words::keys(), Map::new()),
            Self::Lexicon => Lexicon::schema(),
        }
    }
}

fn kinds() -> impl clap::builder::TypedValueParser<Value = TomlFile> {
    PossibleValuesParser::new(TomlFile::all().map(TomlFile::name)).map(|name| {
        let kind = TomlFile::all().find(|kind| kind.name() == name);
        kind.expect("OK because only these names are let through")
    })
}

impl SchemaArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        if let Some(folder) = &self.folder {
            std::fs::create_dir_all(folder)?;
            let mut written = Vec::new();
            for kind in TomlFile::all() {
                let path = folder.join(format!("{}.schema.json", kind.name()));
                std::fs::write(&path, format!("{:#}\n", kind.schema()))?;
                written.push(path);
            }
            if self.json {
                paper::print_json(&written)?;
            } else {
                for path in &written {
                    paper::print(&format!("written  {}\n", path.display()))?;
                }
            }
        } else if let Some(kind) = self.file {
            paper::print_json(&kind.schema())?;
        }
        Ok(Exit::Done.into())
    }
}
