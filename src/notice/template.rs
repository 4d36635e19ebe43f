//! One wording with named slots: `Sitting {number} begins`.
//!
//! Never here: which wordings exist, languages.
//! Promises: text that is put into a slot is never read for slots again.

use std::fmt::{self, Display, Write};

/// A text with slots.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Template {
    parts: Vec<Part>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Part {
    Text(String),
    Slot(String),
}

/// A brace without its partner, or a slot without a plain name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct BraceError;

impl Template {
    /// Reads a text with slots.
    pub(super) fn parse(text: &str) -> Result<Self, BraceError> {
        let mut parts = Vec::new();
        let mut rest = text;
        while let Some(at) = rest.find(['{', '}']) {
            let (before, from) = rest.split_at(at);
            let inside = from.strip_prefix('{').ok_or(BraceError)?;
            let (name, after) = inside.split_once('}').ok_or(BraceError)?;
            let is_plain = |b: u8| b.is_ascii_lowercase() || b == b'_';
            if name.is_empty() || !name.bytes().all(is_plain) {
                return Err(BraceError);
            }
            if !before.is_empty() {
                parts.push(Part::Text(before.to_owned()));
            }
            parts.push(Part::Slot(name.to_owned()));
            rest = after;
        }
        if !rest.is_empty() {
            parts.push(Part::Text(rest.to_owned()));
        }
        Ok(Self { parts })
    }

    /// The names of its slots, in order, repeats included.
    pub(super) fn slots(&self) -> impl Iterator<Item = &str> {
        self.parts.iter().filter_map(|part| match part {
            Part::Slot(name) => Some(name.as_str()),
            Part::Text(_) => None,
        })
    }

    /// The text with its slots filled.
    pub(super) fn filled(&self, values: &[(&str, &dyn Display)]) -> String {
        let mut text = String::new();
        for part in &self.parts {
            match part {
                Part::Text(plain) => text.push_str(plain),
                Part::Slot(name) => {
                    let (_, value) = values
                        .iter()
                        .find(|(slot, _)| slot == name)
                        .expect("OK because a wording with any other slot is refused");
                    write!(text, "{value}").expect("OK because a String takes all that is written");
                }
            }
        }
        text
    }
}

impl Display for Template {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.parts.iter().try_for_each(|part| match part {
            Part::Text(plain) => f.write_str(plain),
            Part::Slot(name) => write!(f, "{{{name}}}"),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_that_looks_like_a_slot_stays_as_it_is() {
        let template = Template::parse("{a} and {b}").expect("OK because the braces pair up");
        assert_eq!(template.filled(&[("a", &"{b}"), ("b", &2)]), "{b} and 2");
    }

    #[test]
    fn braces_without_partner_or_name_are_refused() {
        for text in ["{", "}", "{a", "a}", "{}", "{a b}", "{{a}}"] {
            assert_eq!(Template::parse(text), Err(BraceError), "{text}");
        }
    }
}
