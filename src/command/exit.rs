//! Exit codes: what a command tells the shell.
//!
//! Never here: what the commands say in words.
//! Promises: a number keeps its meaning; every code is described in `fadewatch --help`.

use std::process::ExitCode;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Exit {
    /// It was done.
    Done = 0,
    /// It failed, for a reason that lies outside of what was asked: disk, database, mail.
    Failed = 1,
    /// A file or an argument cannot be used; nothing was done.
    BadInput = 2,
    /// There is no such client, contact, plan or file; nothing was done.
    NotFound = 3,
    /// It was understood and refused, by the rules or because the person may not do it.
    Refused = 4,
    /// A check was made and something is wrong.
    Unwell = 5,
}

/// The codes as `--help` shows them.
pub(super) const EXIT_CODES: &str = "\
Exit codes:
  0  done
  1  failed (disk, database, mail); standard error says what to do
  2  a file or an argument cannot be used; nothing was done
  3  there is no such client, contact, plan or file; nothing was done
  4  refused, by the rules or because this person may not do it
  5  a check was made and something is wrong";

/// The same in one line, under the help of each command.
pub(super) const EXIT_CODES_IN_SHORT: &str = "\
Exit codes: 0 done, 1 failed, 2 bad input, 3 not found, 4 refused, 5 a check found something";

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
