//! The small notation for phrases in language files: `go/goes white/pale`, `sit bones?`,
//! `keep _ off`, `in # minutes`.
//!
//! `a/b` is one of several words, `word?` may be left out, `_` stands for up to two words of any
//! kind, `#` for a number, `$` for the end of the statement.
//!
//! Never here: matching against a reply.
//! Promises: a pattern becomes at most `EXPANSIONS_MAX` plain sequences, none of them empty, none
//! of them beginning with a gap.

/// Most plain sequences that one pattern may stand for.
const EXPANSIONS_MAX: usize = 600;

/// One element of a plain sequence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Element {
    /// This word.
    Word(String),
    /// Up to two words of any kind.
    Gap,
    /// Any number.
    Number,
    /// The end of the statement: a break or the end of the reply.
    End,
}

/// All plain sequences of a pattern.
///
/// # Errors
/// In words, when the pattern is empty, begins with a gap or stands for too many sequences.
pub(crate) fn expand(pattern: &str) -> Result<Vec<Vec<Element>>, String> {
    let mut all: Vec<Vec<Element>> = vec![Vec::new()];
    for part in pattern.split_whitespace() {
        let (part, optional) = match part.strip_suffix('?') {
            Some(bare) => (bare, true),
            None => (part, false),
        };
        let choices: Vec<Element> =
            part.split('/').filter(|w| !w.is_empty()).map(element).collect();
        let mut longer = Vec::new();
        for sequence in &all {
            for choice in &choices {
                let mut next = sequence.clone();
                next.push(choice.clone());
                longer.push(next);
            }
            if optional {
                longer.push(sequence.clone());
            }
        }
        if longer.len() > EXPANSIONS_MAX {
            return Err(format!("the phrase `{pattern}` stands for too many phrases; split it"));
        }
        all = longer;
    }
    all.retain(|sequence| !sequence.is_empty());
    if all.iter().any(|s| s.first() == Some(&Element::Gap)) || all.is_empty() {
        return Err(format!("the phrase `{pattern}` must begin with a word"));
    }
    Ok(all)
}

fn element(word: &str) -> Element {
    match word {
        "_" => Element::Gap,
        "#" => Element::Number,
        "$" => Element::End,
        _ => Element::Word(super::fold::fold(word)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alternatives_and_optional_words_are_spelled_out() {
        let all = expand("go/goes very? pale").expect("OK because the pattern is sound");
        assert_eq!(all.len(), 4);
    }

    #[test]
    fn a_pattern_that_begins_with_a_gap_is_refused() {
        assert!(expand("_ gone").is_err());
        assert!(expand("  ").is_err());
    }
}
