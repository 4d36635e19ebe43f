//! One-tap answers as links (RFC 6068).
//!
//! Never here: what the answers say.
//! Promises: only letters, digits and `-._~@%` besides the link's own marks, so the link survives
//! HTML attributes and every reader's parser; a `+` in the address goes as `%2B`, since some mail
//! programs read a bare one as a space.

use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

/// All but RFC 3986's unreserved characters.
const IN_A_VALUE: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');
/// In an address the sign between its halves is plain too.
const IN_AN_ADDRESS: &AsciiSet = &IN_A_VALUE.remove(b'@');

/// A link that opens a mail to `address` with subject and body ready to send.
pub(super) fn mailto(address: &str, subject: &str, body: &str) -> String {
    let mut link = String::with_capacity(256);
    link.push_str("mailto:");
    link.extend(utf8_percent_encode(address, IN_AN_ADDRESS));
    link.push_str("?subject=");
    link.extend(utf8_percent_encode(subject, IN_A_VALUE));
    link.push_str("&body=");
    link.extend(utf8_percent_encode(body, IN_A_VALUE));
    link
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_holds_nothing_that_a_mail_program_could_misread() {
        let link = mailto("checks+t&k@clinic.example", "Re: A7 + “é”", "50 % & more? #1\r\n=");
        assert_eq!(
            link,
            "mailto:checks%2Bt%26k@clinic.example\
             ?subject=Re%3A%20A7%20%2B%20%E2%80%9C%C3%A9%E2%80%9D\
             &body=50%20%25%20%26%20more%3F%20%231%0D%0A%3D"
        );
    }
}
