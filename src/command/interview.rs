//! Asks questions, on a terminal or from a pipe.
//!
//! Never here: what is asked.
//! Promises: an empty answer, or no more input, takes the default; on a terminal a wrong answer is
//! asked again, from a pipe it ends the command with what would be right; a password is never shown.

use std::io::{self, BufRead, IsTerminal, Write};

use super::setting::CommandError;

/// Somebody who answers.
pub(super) struct Interview {
    is_terminal: bool,
    line: u32,
}

impl Interview {
    /// Begins, with whoever is at standard input.
    pub(super) fn begin() -> Self {
        Self { is_terminal: io::stdin().is_terminal(), line: 0 }
    }

    /// Asks until there is an answer that can be used.
    pub(super) fn ask<T>(
        &mut self,
        question: &str,
        default: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<T, CommandError> {
        loop {
            self.put(&format!("{question} [{default}]: "))?;
            let said = self.next_line()?;
            if !self.is_terminal {
                self.put(&format!("{said}\n"))?;
            }
            let said = if said.is_empty() { default } else { &said };
            match read(said) {
                Ok(answer) => return Ok(answer),
                Err(why) if self.is_terminal => self.put(&format!("  {why}\n"))?,
                Err(why) => {
                    return Err(CommandError::BadInput(format!(
                        "line {} of the answers, to \"{question}\": {why}\nhint: nothing was \
                         written; correct the line, or leave it empty for \"{default}\"",
                        self.line
                    )));
                }
            }
        }
    }

    /// Asks for something that must not be shown. Empty where nothing is said.
    pub(super) fn ask_secretly(&mut self, question: &str) -> Result<String, CommandError> {
        self.put(&format!("{question}: "))?;
        if self.is_terminal {
            return Ok(rpassword::read_password()?);
        }
        let said = self.next_line()?;
        self.put(if said.is_empty() { "\n" } else { "(not shown)\n" })?;
        Ok(said)
    }

    /// Says something in between.
    pub(super) fn say(&self, text: &str) -> Result<(), CommandError> {
        self.put(&format!("{text}\n"))
    }

    fn next_line(&mut self) -> Result<String, CommandError> {
        let mut line = String::new();
        io::stdin().lock().read_line(&mut line)?;
        self.line += 1;
        Ok(line.trim().trim_start_matches('\u{feff}').to_owned())
    }

    fn put(&self, text: &str) -> Result<(), CommandError> {
        let mut out = io::stderr().lock();
        out.write_all(text.as_bytes())?;
        Ok(out.flush()?)
    }
}
