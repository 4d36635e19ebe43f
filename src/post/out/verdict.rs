//! From an SMTP error and the moment it came, what became of the mail.
//!
//! Never here: I/O.
//! Promises: only an error after the mail was handed over is in doubt; a refusal is held against
//! the recipient only when it speaks of the recipient.

use std::error::Error as _;

use lettre::transport::smtp::Error;

use super::super::connectivity::Trouble;
use super::{Outcome, Refusal};

/// Longest server text kept, in characters; more says nothing more to a person.
const TEXT_CHARS_MAX: usize = 500;

/// How far a sending had come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stage {
    /// Greeting, EHLO, STARTTLS.
    Greeting,
    /// AUTH.
    Login,
    /// MAIL FROM.
    Sender,
    /// RCPT TO.
    Recipient,
    /// DATA, before the mail itself.
    Data,
    /// The mail and its final dot.
    Mail,
}

/// What became of the mail, after an error at this stage.
pub(super) fn verdict(stage: Stage, error: &Error) -> Outcome {
    let text = error.source().map_or_else(|| error.to_string(), ToString::to_string);
    match error.status() {
        Some(code) => refusal(stage, code.into(), &text),
        None if stage == Stage::Mail => Outcome::InDoubt { why: cut(&text) },
        None => Outcome::Unreachable { trouble: trouble(stage, error), why: cut(&text) },
    }
}

/// What became of the mail when the stage took too long.
pub(super) fn late(stage: Stage, seconds: f32) -> Outcome {
    let why = format!("nothing came from the mail server within {seconds} s");
    match stage {
        Stage::Mail => Outcome::InDoubt { why },
        Stage::Greeting | Stage::Login | Stage::Sender | Stage::Recipient | Stage::Data => {
            Outcome::Unreachable { trouble: Trouble::Lost, why }
        }
    }
}

/// A server's no at this stage.
pub(super) fn refusal(stage: Stage, code: u16, text: &str) -> Outcome {
    let permanent = code >= 500;
    Outcome::Refused(Refusal {
        permanent,
        recipient_at_fault: is_about_recipient(stage, code, text),
        code,
        text: cut(text),
    })
}

fn is_about_recipient(stage: Stage, code: u16, text: &str) -> bool {
    // 421: the server closes. 503, 530, 535, 538: it wants another order, a login, a better one.
    if matches!(code, 421 | 503 | 530 | 534 | 535 | 538) {
        return false;
    }
    match (stage, enhanced_subject(text)) {
        // RFC 3463: subject 3 is the server's state, 4 the network, 5 the protocol. For good, the
        // first two are still said of an unknown user or of a domain that leads nowhere.
        (Stage::Recipient, Some(3..=4)) => code >= 500,
        (Stage::Recipient, Some(5)) => false,
        (Stage::Recipient, _) => true,
        // Subjects 1 and 2 are the address and the mailbox. Some servers speak of the recipient
        // only once they have the mail; of the sender's address they speak at MAIL FROM.
        (Stage::Data | Stage::Mail, Some(1 | 2)) => true,
        (Stage::Greeting | Stage::Login | Stage::Sender | Stage::Data | Stage::Mail, _) => false,
    }
}

/// The middle number of an enhanced status code (RFC 3463) at the head of the server's text.
fn enhanced_subject(text: &str) -> Option<u8> {
    let mut numbers = text.split_whitespace().next()?.split('.');
    let class = numbers.next()?;
    let subject = numbers.next()?.parse().ok()?;
    let detail: Option<u16> = numbers.next()?.parse().ok();
    (matches!(class, "4" | "5") && detail.is_some()).then_some(subject)
}

fn trouble(stage: Stage, error: &Error) -> Trouble {
    match stage {
        Stage::Login if error.is_client() => Trouble::Login,
        _ if error.is_response() => Trouble::Protocol,
        _ if error.is_client() => Trouble::Protocol,
        _ => Trouble::Lost,
    }
}

fn cut(text: &str) -> String {
    let one_line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    one_line.chars().take(TEXT_CHARS_MAX).collect::<String>().trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at_fault(stage: Stage, code: u16, text: &str) -> bool {
        let Outcome::Refused(refusal) = refusal(stage, code, text) else { panic!() };
        assert_eq!(refusal.permanent, code >= 500);
        refusal.recipient_at_fault
    }

    #[test]
    fn a_no_to_the_recipient_is_held_against_the_recipient() {
        for (stage, code, text) in [
            (Stage::Recipient, 550, "5.1.1 <x@home.example>: user unknown"),
            (Stage::Recipient, 550, "no such user"),
            (Stage::Recipient, 550, "5.7.1 refused by policy"),
            (Stage::Recipient, 550, "5.3.0 user unknown"),
            (Stage::Recipient, 550, "5.4.4 host not found"),
            (Stage::Recipient, 451, "4.2.1 try again later"),
            (Stage::Mail, 552, "5.2.2 mailbox full"),
            (Stage::Data, 550, "5.1.1 unknown"),
        ] {
            assert!(at_fault(stage, code, text), "{code} {text}");
        }
    }

    #[test]
    fn a_no_to_us_is_not_held_against_the_recipient() {
        for (stage, code, text) in [
            (Stage::Login, 535, "5.7.8 authentication failed"),
            (Stage::Sender, 553, "5.1.8 sender address rejected"),
            (Stage::Recipient, 530, "5.7.0 authentication required"),
            (Stage::Recipient, 421, "4.7.0 too many connections"),
            (Stage::Recipient, 452, "4.3.1 insufficient system storage"),
            (Stage::Recipient, 452, "4.5.3 too many recipients"),
            (Stage::Mail, 554, "5.7.1 looks like spam"),
            (Stage::Mail, 552, "message too big"),
            (Stage::Greeting, 554, "no service here"),
        ] {
            assert!(!at_fault(stage, code, text), "{code} {text}");
        }
    }

    #[test]
    fn silence_after_the_mail_is_doubt_and_before_it_is_not() {
        assert!(matches!(late(Stage::Mail, 1.0), Outcome::InDoubt { .. }));
        assert!(matches!(late(Stage::Data, 1.0), Outcome::Unreachable { .. }));
    }
}
