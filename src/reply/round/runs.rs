//! Runs of letters and digits in a line, with their places.
//!
//! Never here: what a run means.
//! Promises: places are at the borders of characters; two spellings that fold alike give equal runs.

use crate::reply::fold::fold;

/// One run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Run {
    /// Its letters and digits, folded.
    pub(super) text: String,
    /// Where it begins, in bytes.
    pub(super) from: usize,
    /// Where it ends, in bytes.
    pub(super) to: usize,
}

/// The runs of a line.
pub(super) fn runs(line: &str) -> Vec<Run> {
    let mut out: Vec<Run> = Vec::new();
    let mut open: Option<usize> = None;
    for (at, c) in line.char_indices().chain([(line.len(), ' ')]) {
        // Marks that fold to nothing, such as an accent that follows its letter, part no word.
        let is_part = c.is_alphanumeric()
            || open.is_some() && c != ' ' && fold(c.encode_utf8(&mut [0; 4])).is_empty();
        match (is_part, open) {
            (true, None) => open = Some(at),
            (false, Some(from)) => {
                out.push(Run { text: fold(&line[from..at]), from, to: at });
                open = None;
            }
            (true, Some(_)) | (false, None) => {}
        }
    }
    out
}

/// The folded runs of a phrase.
pub(super) fn folded_runs(phrase: &str) -> Vec<String> {
    runs(phrase).into_iter().map(|run| run.text).collect()
}
