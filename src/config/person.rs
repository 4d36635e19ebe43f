//! People as settings name them: names, mail addresses, languages.
//!
//! Never here: sending anything to them.
//! Promises: `Debug` never shows a name or an address; an address is safe in a mail header.

use std::fmt;

use super::problem::Report;
use super::table::{At, Table};

/// A person's name as the clinic writes it; one line.
#[derive(Clone, PartialEq, Eq)]
pub struct PersonName(String);

impl PersonName {
    /// Reads a name.
    ///
    /// # Errors
    /// When it is empty, longer than 80 characters or more than one line.
    pub fn new(text: &str) -> Result<Self, PersonError> {
        let text = text.trim();
        let fits = (1..=NAME_CHARS_MAX).contains(&text.chars().count());
        if fits && !text.chars().any(char::is_control) {
            Ok(Self(text.to_owned()))
        } else {
            Err(PersonError::Name)
        }
    }

    /// The name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for PersonName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PersonName(…)")
    }
}

/// A mail address: `local@domain`, ASCII, without display name.
#[derive(Clone, PartialEq, Eq)]
pub struct MailAddress(String);

impl MailAddress {
    /// Reads an address.
    ///
    /// # Errors
    /// When it is not one plain ASCII address.
    pub fn new(text: &str) -> Result<Self, PersonError> {
        let text = text.trim();
        let (local, domain) = text.rsplit_once('@').ok_or(PersonError::NoAt)?;
        if !text.is_ascii() {
            return Err(PersonError::NotAscii);
        }
        let local_fits = (1..=LOCAL_BYTES_MAX).contains(&local.len())
            && local.bytes().all(|b| b.is_ascii_alphanumeric() || LOCAL_MARKS.contains(&b))
            && !local.starts_with('.')
            && !local.ends_with('.')
            && !local.contains("..");
        let domain_fits = domain.len() <= DOMAIN_BYTES_MAX
            && domain.split('.').all(|label| {
                !label.is_empty()
                    && label.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
                    && !label.starts_with('-')
                    && !label.ends_with('-')
            });
        if local_fits && domain_fits {
            Ok(Self(text.to_owned()))
        } else {
            Err(PersonError::Address)
        }
    }

    /// The address as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether two addresses reach the same mailbox: case does not matter, as servers have it.
    pub fn is_same(&self, other: &Self) -> bool {
        self.0.eq_ignore_ascii_case(&other.0)
    }
}

impl fmt::Debug for MailAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("MailAddress(…)")
    }
}

/// A language tag such as `en` or `de-AT`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Language(String);

impl Language {
    /// Reads a tag.
    ///
    /// # Errors
    /// When it is not two or three small letters, with two large ones after a `-` where wanted.
    pub fn new(text: &str) -> Result<Self, PersonError> {
        let (language, region) = match text.split_once('-') {
            Some((language, region)) => (language, Some(region)),
            None => (text, None),
        };
        let fits = (2..=3).contains(&language.len())
            && language.bytes().all(|b| b.is_ascii_lowercase())
            && region.is_none_or(|r| r.len() == 2 && r.bytes().all(|b| b.is_ascii_uppercase()));
        if fits { Ok(Self(text.to_owned())) } else { Err(PersonError::Language) }
    }

    /// The tag as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Why a text does not name or reach a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PersonError {
    /// Not a name.
    #[error("a name is one line of up to {NAME_CHARS_MAX} characters")]
    Name,
    /// No `@`.
    #[error("a mail address has an `@`")]
    NoAt,
    /// Letters that not every mail server takes.
    #[error("a mail address is written in plain letters, digits and marks only")]
    NotAscii,
    /// Any other slip in an address.
    #[error("not a mail address")]
    Address,
    /// Not a language tag.
    #[error("a language is two or three small letters, such as `en` or `de-AT`")]
    Language,
}

impl Table<'_> {
    /// A mail address.
    pub(super) fn mail(&self, name: &str) -> Option<At<MailAddress>> {
        let text = self.text(name)?;
        if let Some(bare) = address_within(text.value) {
            self.report
                .error(text.span, format!("`{}` must be the address alone", self.full_name(name)))
                .label("a name stands beside the address")
                .help(format!("did you mean \"{bare}\"?"));
            return None;
        }
        self.parsed(name, MailAddress::new)
    }
}

/// Records every entry that repeats an earlier one.
pub(super) fn refuse_repeats<T>(
    report: &Report,
    entries: &[At<T>],
    same: impl Fn(&T, &T) -> bool,
    what: &str,
    why: &str,
) {
    for (index, entry) in entries.iter().enumerate() {
        let earlier = entries[..index].iter().find(|earlier| same(&earlier.value, &entry.value));
        if let Some(earlier) = earlier {
            report
                .error(entry.span.clone(), what.to_owned())
                .label("the second time")
                .beside(earlier.span.clone(), "the first time")
                .why(why);
        }
    }
}

/// The address in `Name <address>`.
fn address_within(text: &str) -> Option<&str> {
    let (_, rest) = text.split_once('<')?;
    let bare = rest.strip_suffix('>')?;
    MailAddress::new(bare).is_ok().then_some(bare)
}

/// Longest name: more would not fit a phone's line twice.
const NAME_CHARS_MAX: usize = 80;
/// Longest local part (RFC 5321, section 4.5.3.1.1).
const LOCAL_BYTES_MAX: usize = 64;
/// Longest domain (RFC 5321, section 4.5.3.1.2).
const DOMAIN_BYTES_MAX: usize = 255;
/// Marks that a local part may hold without quotes (RFC 5322, section 3.2.3), and the dot.
const LOCAL_MARKS: &[u8] = b"!#$%&'*+-/=?^_`{|}~.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_one_plain_address_is_an_address() {
        for right in ["a@b.example", "first.last+tag@sub.clinic.example", "x@localhost"] {
            assert!(MailAddress::new(right).is_ok(), "{right}");
        }
        for wrong in [
            "",
            "a",
            "a@",
            "@b.example",
            "a b@c.example",
            "a@b..example",
            "a@-b.example",
            "a@b.example, c@d.example",
            "a@b.example\nBcc: c@d.example",
            "ä@b.example",
            ".a@b.example",
            "\"a\"@b.example",
        ] {
            assert!(MailAddress::new(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn debug_output_shows_neither_names_nor_addresses() {
        let name = PersonName::new("Marker").unwrap();
        let mail = MailAddress::new("marker@x.example").unwrap();
        assert!(!format!("{name:?} {mail:?}").to_lowercase().contains("marker"));
    }
}
