//! Mail addresses, with the plus-address that carries a token.
//!
//! Never here: who an address belongs to, what a token stands for.
//! Promises: an `Address` is plain ASCII without spaces, quotes, line breaks or a path separator in
//! its domain, so it is safe in an SMTP command and in a header line; printing and parsing agree.

use std::fmt;
use std::str::FromStr;

/// Longest local part, in bytes (RFC 5321, 4.5.3.1.1).
const LOCAL_BYTES_MAX: usize = 64;
/// Longest domain that fits a path of 256 bytes with its brackets (RFC 5321, 4.5.3.1.3).
const DOMAIN_BYTES_MAX: usize = 253;
/// Longest label of a domain, in bytes (RFC 1035, 2.3.4).
const LABEL_BYTES_MAX: usize = 63;

/// Why a text is not an address that this service uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AddressError {
    /// Nothing before or after an `@`.
    #[error("a mail address has the form `name@domain`")]
    Form,
    /// The part before the `@` is too long or holds a character that would need quoting.
    #[error(
        "the part before the `@` is 1 to {LOCAL_BYTES_MAX} letters, digits or `.!#$%&'*+-/=?^_`{{|}}~`, \
         without a dot at either end or two in a row"
    )]
    Local,
    /// The part after the `@` is not a domain name.
    #[error(
        "the part after the `@` is a domain name of letters, digits, `-` and dots; write an \
         international name in its `xn--` form"
    )]
    Domain,
    /// A token that cannot stand in a plus-address.
    #[error(
        "a token in an address is made of letters, digits, `-` and `_`, and fits its local part"
    )]
    Token,
}

/// A mail address: dot-atom local part, host name as domain, ASCII only. The case is kept as
/// written; [`Address::is_same`] compares without it.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Address {
    text: String,
    at: usize,
}

impl Address {
    /// Reads `name@domain`; spaces around it are dropped.
    ///
    /// # Errors
    /// When a part is missing, too long, or holds a character that would need quoting.
    pub fn parse(text: &str) -> Result<Self, AddressError> {
        let text = text.trim();
        let (local, domain) = text.rsplit_once('@').ok_or(AddressError::Form)?;
        if local.is_empty() || domain.is_empty() {
            return Err(AddressError::Form);
        }
        if !is_dot_atom(local) {
            return Err(AddressError::Local);
        }
        if !is_host_name(domain) {
            return Err(AddressError::Domain);
        }
        let address = Self { text: text.to_owned(), at: local.len() };
        // The mail library has the last word, so that sending cannot fail on it later.
        lettre::Address::new(address.local(), address.domain())
            .map(|_| address)
            .map_err(|_| AddressError::Domain)
    }

    /// The whole address as written.
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The part before the `@`, with its token if there is one.
    pub fn local(&self) -> &str {
        &self.text[..self.at]
    }

    /// The part after the `@`.
    pub fn domain(&self) -> &str {
        &self.text[self.at + 1..]
    }

    /// The token in `name+token@domain`: what follows the first `+`, unless empty.
    pub fn token(&self) -> Option<&str> {
        self.local().split_once('+').map(|(_, token)| token).filter(|token| !token.is_empty())
    }

    /// The address without its token.
    pub fn without_token(&self) -> Self {
        match self.local().split_once('+') {
            Some((name, _)) if !name.is_empty() => {
                Self { text: format!("{name}@{}", self.domain()), at: name.len() }
            }
            _ => self.clone(),
        }
    }

    /// The same address with this token in place of any other.
    ///
    /// # Errors
    /// When the token holds anything but letters, digits, `-` and `_`, or makes the address too
    /// long.
    pub fn with_token(&self, token: &str) -> Result<Self, AddressError> {
        let fits = !token.is_empty()
            && token.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_'));
        let bare = self.without_token();
        if !fits || bare.local().len() + 1 + token.len() > LOCAL_BYTES_MAX {
            return Err(AddressError::Token);
        }
        Self::parse(&format!("{}+{token}@{}", bare.local(), bare.domain()))
    }

    /// The address in lower case: what to store and to look up by. Real servers do not tell
    /// mailboxes apart by case, though RFC 5321 lets them.
    pub fn folded(&self) -> String {
        self.text.to_ascii_lowercase()
    }

    /// Whether both name one mailbox, whatever their case.
    pub fn is_same(&self, other: &Self) -> bool {
        self.text.eq_ignore_ascii_case(&other.text)
    }

    /// The same for the mail library.
    pub(super) fn for_sending(&self) -> lettre::Address {
        lettre::Address::new_dangerous(self.local(), self.domain())
    }
}

impl FromStr for Address {
    type Err = AddressError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::parse(text)
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl fmt::Debug for Address {
    /// Hides the address: it is personal, and `Debug` ends up in logs and test output.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Address(…)")
    }
}

/// An address with the name that a mail program shows beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mailbox {
    /// Shown to people; any script, no control characters. Empty: none.
    pub name: ShownName,
    /// The address itself.
    pub address: Address,
}

impl Mailbox {
    /// An address with a name beside it; an empty name shows the address alone.
    pub fn new(name: &str, address: Address) -> Self {
        Self { name: ShownName(name.to_owned()), address }
    }
}

/// A name beside an address; hidden from `Debug`, since it is personal.
#[derive(Clone, PartialEq, Eq)]
pub struct ShownName(String);

impl ShownName {
    /// The name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for ShownName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("ShownName(…)")
    }
}

fn is_dot_atom(local: &str) -> bool {
    local.len() <= LOCAL_BYTES_MAX
        && local.split('.').all(|atom| !atom.is_empty() && atom.bytes().all(is_atom_byte))
}

/// RFC 5322, 3.2.3: what may stand in an atom.
fn is_atom_byte(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || b"!#$%&'*+-/=?^_`{|}~".contains(&byte)
}

fn is_host_name(domain: &str) -> bool {
    domain.len() <= DOMAIN_BYTES_MAX
        && domain.split('.').all(|label| {
            (1..=LABEL_BYTES_MAX).contains(&label.len())
                && !label.starts_with('-')
                && !label.ends_with('-')
                && label.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(text: &str) -> Address {
        Address::parse(text).unwrap()
    }

    #[test]
    fn a_token_goes_in_and_comes_out_of_the_plus_address() {
        let bare = address("Replies@clinic.example");
        let with = bare.with_token("a1B2-c3_d4").unwrap();
        assert_eq!(with.as_str(), "Replies+a1B2-c3_d4@clinic.example");
        assert_eq!(with.token(), Some("a1B2-c3_d4"));
        assert!(with.without_token().is_same(&address("replies@CLINIC.example")));
        assert_eq!(with.with_token("other").unwrap().as_str(), "Replies+other@clinic.example");
        assert_eq!(bare.token(), None);
        assert_eq!(address("replies+@clinic.example").token(), None);
    }

    #[test]
    fn tokens_that_would_break_an_address_are_refused() {
        let bare = address("replies@clinic.example");
        for token in ["", "a b", "a@b", "a+b", "ä", "a\r\nb", &"x".repeat(80)] {
            assert_eq!(bare.with_token(token), Err(AddressError::Token), "{token:?}");
        }
    }

    #[test]
    fn what_could_break_a_header_or_a_command_is_no_address() {
        for text in [
            "",
            "nobody",
            "@clinic.example",
            "a@",
            "a b@clinic.example",
            "\"a b\"@clinic.example",
            "a@b@clinic.example",
            "a..b@clinic.example",
            ".a@clinic.example",
            "a@clinic..example",
            "a@-clinic.example",
            "a@[127.0.0.1]",
            "a@clinic.example>\r\nRCPT TO:<b@x.example",
            "a\n@clinic.example",
            "a@clinic.exämple",
            "a@../../etc",
        ] {
            assert!(Address::parse(text).is_err(), "{text:?}");
        }
        assert!(Address::parse(&format!("{}@clinic.example", "a".repeat(65))).is_err());
    }

    #[test]
    fn debug_output_shows_neither_the_address_nor_the_name() {
        let shown = format!("{:?}", Mailbox::new("Ada Marker", address("marker@home.example")));
        assert!(!shown.contains("arker"), "{shown}");
    }
}
