//! Shell completions and man pages, made from the command line itself.
//!
//! Never here: installing them (`packaging`).
//! Promises: both always fit the program that wrote them.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Command};
use clap_complete::Shell;

use super::exit::Exit;
use super::paper;
use super::setting::CommandError;

/// What `completions` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch completions bash > /etc/bash_completion.d/fadewatch")]
pub(super) struct CompletionsArgs {
    /// The shell.
    shell: Shell,
}

/// What `man-pages` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch man-pages /usr/share/man/man1")]
pub(super) struct ManPagesArgs {
    /// The folder to write to; it is made where it is missing.
    folder: PathBuf,
}

impl CompletionsArgs {
    pub(super) fn run(&self, mut command: Command) -> Result<ExitCode, CommandError> {
        let mut script = Vec::new();
        let name = command.get_name().to_owned();
        clap_complete::generate(self.shell, &mut command, name, &mut script);
        paper::print(&String::from_utf8_lossy(&script))?;
        Ok(Exit::Done.into())
    }
}

impl ManPagesArgs {
    pub(super) fn run(&self, command: Command) -> Result<ExitCode, CommandError> {
        std::fs::create_dir_all(&self.folder)?;
        clap_mangen::generate_to(command, &self.folder)?;
        Ok(Exit::Done.into())
    }
}
