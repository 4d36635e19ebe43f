//! Words that somebody wrote freely: a fitter's name, a seat, a note.
//!
//! Never here: their meaning.
//! Promises: one line, never empty, at most 300 characters; `Debug` shows none of them, so that no
//! log or panic does.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The longest free words, in characters: a few lines on paper.
const CHARS_MAX: usize = 300;

/// Free words on one line.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FreeWords(String);

/// Why a text cannot be free words.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("free words are 1 to {CHARS_MAX} characters")]
pub struct FreeWordsError;

impl FreeWords {
    /// Takes words; line ends, other control characters and marks that turn the direction of text
    /// become spaces.
    ///
    /// # Errors
    /// When nothing is left, or more than 300 characters.
    pub fn new(text: &str) -> Result<Self, FreeWordsError> {
        let shown = text.replace(|c: char| c.is_control() || turns_text(c), " ");
        let line = shown.split_whitespace().collect::<Vec<_>>().join(" ");
        let fits = (1..=CHARS_MAX).contains(&line.chars().count());
        if fits { Ok(Self(line)) } else { Err(FreeWordsError) }
    }

    /// The words.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

fn turns_text(c: char) -> bool {
    matches!(
        c,
        '\u{200E}' | '\u{200F}' | '\u{061C}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}'
    )
}

impl fmt::Debug for FreeWords {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("FreeWords(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn free_words_are_one_line_and_never_show_in_debug_output() {
        let words = FreeWords::new(" a seat\nwith\u{202e} a relief ");
        assert_eq!(words.as_ref().map(FreeWords::as_str), Ok("a seat with a relief"));
        assert!(!format!("{words:?}").contains("relief"));
        assert_eq!(FreeWords::new(" \n "), Err(FreeWordsError));
        assert_eq!(FreeWords::new(&"x".repeat(301)), Err(FreeWordsError));
    }
}
