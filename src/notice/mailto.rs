//! One-tap answers as links (RFC 6068).
//!
//! Never here: what the answers say.
//! Promises: only letters, digits and `-._~@%` besides the link's own marks, so the link survives
//! HTML attributes and every reader's parser; a `+` in the address goes as `%2B`, since some mail
//! programs read a bare one as a space.

/// A link that opens a mail to `address` with subject and body ready to send.
pub(super) fn mailto(address: &str, subject: &str, body: &str) -> String {
    let (address, subject, body) = (encoded(address, "@"), encoded(subject, ""), encoded(body, ""));
    format!("mailto:{address}?subject={subject}&body={body}")
}

fn encoded(text: &str, also_plain: &str) -> String {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    let digit = |value: u8| char::from(DIGITS[usize::from(value)]);
    let mut out = String::with_capacity(text.len() * 2);
    for byte in text.bytes() {
        // RFC 3986's unreserved characters, and what the caller knows to be harmless.
        let is_plain = byte.is_ascii_alphanumeric()
            || b"-._~".contains(&byte)
            || also_plain.as_bytes().contains(&byte);
        if is_plain {
            out.push(char::from(byte));
        } else {
            out.extend(['%', digit(byte >> 4), digit(byte & 15)]);
        }
    }
    out
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
