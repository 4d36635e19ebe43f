//! What commands write on: standard output for what was asked for, standard error for the rest.
//!
//! Never here: what is written.
//! Promises: colour only on a terminal, never where `NO_COLOR` is set, and never alone; a reader
//! that stops reading, such as `head`, is no failure.

use std::io::{self, IsTerminal, Write};

use serde::Serialize;

use super::setting::CommandError;
use crate::config::Colour;

/// Prints a text; it ends with a newline already.
pub(super) fn print(text: &str) -> Result<(), CommandError> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => Ok(other?),
    }
}

/// Prints a value as one JSON document.
pub(super) fn print_json(value: &impl Serialize) -> Result<(), CommandError> {
    let text = serde_json::to_string_pretty(value)
        .expect("OK because what commands print has text keys only");
    print(&format!("{text}\n"))
}

/// Says something beside what was asked for.
pub(super) fn warn(text: &str) {
    eprintln!("warning: {text}");
}

/// Whether standard output shows colours.
pub(super) fn colour() -> Colour {
    colour_of(io::stdout().is_terminal())
}

/// Whether standard error shows colours.
pub(super) fn error_colour() -> Colour {
    colour_of(io::stderr().is_terminal())
}

fn colour_of(is_terminal: bool) -> Colour {
    // https://no-color.org: set to anything but nothing.
    let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|value| value == "dumb");
    if is_terminal && !refused && !dumb { Colour::Terminal } else { Colour::Plain }
}
