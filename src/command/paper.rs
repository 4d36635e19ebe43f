//! What commands write on and in which language: standard output or a file for what was asked for,
//! standard error for the rest.
//!
//! Never here: what is written.
//! Promises: colour only on a terminal, never where `NO_COLOR` is set, and never alone; a reader
//! that stops reading, such as `head`, is no failure.

use std::io::{self, IsTerminal, Write};
use std::path::Path;

use serde::Serialize;

use super::setting::CommandError;
use crate::config::Colour;
use crate::notice::Languages;

/// Prints a text; it ends with a newline already.
pub(super) fn print(text: &str) -> Result<(), CommandError> {
    print_bytes(text.as_bytes())
}

/// Prints bytes as they are.
pub(super) fn print_bytes(bytes: &[u8]) -> Result<(), CommandError> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => Ok(other?),
    }
}

/// Writes a text to a file.
pub(super) fn write(path: &Path, text: &str) -> Result<(), CommandError> {
    let refused = |source| CommandError::File { path: path.to_owned(), source };
    std::fs::write(path, text).map_err(refused)
}

/// Refuses a language that there are no words in; its region may be any.
pub(super) fn known_language(languages: &Languages, tag: &str) -> Result<(), CommandError> {
    let primary = tag.split('-').next().unwrap_or(tag);
    if languages.codes().any(|code| code == tag || code == primary) {
        return Ok(());
    }
    let known: Vec<&str> = languages.codes().collect();
    let what = format!(
        "there are no words in the language `{tag}`\nhint: use one of {}",
        known.join(", ")
    );
    Err(CommandError::BadInput(what))
}

/// Prints a value as one JSON document.
pub(super) fn print_json(value: &impl Serialize) -> Result<(), CommandError> {
    print(&json(value))
}

/// A value as one JSON document, with a newline at its end.
pub(super) fn json(value: &impl Serialize) -> String {
    let text = serde_json::to_string_pretty(value)
        .expect("OK because what commands print has text keys only");
    format!("{text}\n")
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
    let set = |name: &str| std::env::var(name).unwrap_or_default();
    colour_for(is_terminal, &set("NO_COLOR"), &set("TERM"))
}

/// `NO_COLOR` refuses colours when it is set to anything but nothing (https://no-color.org).
fn colour_for(is_terminal: bool, no_color: &str, term: &str) -> Colour {
    if is_terminal && no_color.is_empty() && term != "dumb" {
        Colour::Terminal
    } else {
        Colour::Plain
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_for_terminals_that_do_not_refuse_them() {
        assert_eq!(colour_for(true, "", "xterm"), Colour::Terminal);
        for (is_terminal, no_color, term) in
            [(false, "", "xterm"), (true, "1", "xterm"), (true, "", "dumb")]
        {
            assert_eq!(colour_for(is_terminal, no_color, term), Colour::Plain);
        }
    }
}
