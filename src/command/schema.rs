//! `fadewatch schema`: JSON Schemas of the settings files, for editors.
//!
//! Never here: what stands in them (`config::schema`).
//! Promises: a file is written over only by its own newer form.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::PossibleValuesParser;
use clap::{Args, builder::TypedValueParser as _};

use super::exit::Exit;
use super::paper;
use super::setting::CommandError;
use crate::config::SettingsFile;

/// What `schema` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch schema clinic > clinic.schema.json\n  \
    fadewatch schema --folder schemas\n\nMany editors find a schema by a comment on the first line \
    of the TOML file:\n  #:schema ./clinic.schema.json\nThe service's own check says more: it also \
    knows what hangs on two settings.")]
pub(super) struct SchemaArgs {
    /// The kind of file.
    #[arg(required_unless_present = "folder", value_parser = kinds())]
    file: Option<SettingsFile>,
    /// Write the schemas of all kinds into this folder instead, each as KIND.schema.json.
    #[arg(long, value_name = "DIR", conflicts_with = "file")]
    folder: Option<PathBuf>,
}

fn kinds() -> impl clap::builder::TypedValueParser<Value = SettingsFile> {
    PossibleValuesParser::new(SettingsFile::ALL.map(SettingsFile::name)).map(|name| {
        let kind = SettingsFile::ALL.into_iter().find(|kind| kind.name() == name);
        kind.expect("OK because only these names are let through")
    })
}

impl SchemaArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        if let Some(folder) = &self.folder {
            std::fs::create_dir_all(folder)?;
            for kind in SettingsFile::ALL {
                let path = folder.join(format!("{}.schema.json", kind.name()));
                std::fs::write(&path, format!("{:#}\n", kind.schema()))?;
                paper::print(&format!("written  {}\n", path.display()))?;
            }
        } else if let Some(kind) = self.file {
            paper::print_json(&kind.schema())?;
        }
        Ok(Exit::Done.into())
    }
}
