//! The bytes of mail that people and mail systems send back.
//!
//! Never here: the service's own mail; what any of it means.
//! Promises: each letter bears the number of what was said in its Message-ID, so that the
//! simulation knows it again whatever is made of it.

use super::dice::Dice;
use crate::follow_up::Instant;

/// What a letter answers, taken from the notice's own bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answered {
    /// The address that answers go to, with its token.
    pub reply_to: String,
    /// The notice's Message-ID, with brackets.
    pub message_id: String,
}

/// How the notice is quoted in the reply.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quoted {
    /// Not at all.
    No,
    /// Below the answer, each line marked.
    Marked,
    /// Below the answer, without any marks, as some programs do.
    Unmarked,
}

/// A letter to be written.
#[derive(Clone, Debug)]
pub struct Letter<'a> {
    /// The number of what is said.
    pub number: usize,
    /// The writer's address.
    pub from: &'a str,
    /// Where it goes.
    pub to: &'a str,
    /// The notice that it answers.
    pub answers: Option<&'a Answered>,
    /// When it is written.
    pub at: Instant,
    /// The words.
    pub words: &'a str,
    /// The notice's plain text and how it is quoted.
    pub quoted: (Quoted, &'a str),
}

/// Reads what an answer needs from a notice: its Reply-To address and its Message-ID.
pub fn answered(raw: &[u8]) -> Option<Answered> {
    let end = raw.windows(4).position(|bytes| bytes == b"\r\n\r\n").unwrap_or(raw.len());
    let head = std::str::from_utf8(&raw[..end]).ok()?;
    let header = |name: &str| {
        let mut lines = head.lines().skip_while(|line| !line.starts_with(name));
        let mut value = lines.next()?[name.len()..].to_owned();
        for folded in lines.map_while(|line| line.strip_prefix([' ', '\t'])) {
            value.push(' ');
            value.push_str(folded);
        }
        Some(value.trim().to_owned())
    };
    let reply_to = header("Reply-To:")?;
    let address = match (reply_to.rfind('<'), reply_to.rfind('>')) {
        (Some(from), Some(to)) if from < to => reply_to[from + 1..to].to_owned(),
        _ => reply_to,
    };
    Some(Answered { reply_to: address, message_id: header("Message-ID:")? })
}

/// The notice's plain text, as a mail program would quote it.
pub fn plain_text(raw: &[u8]) -> String {
    let message = mail_parser::MessageParser::default().parse(raw);
    message
        .and_then(|message| message.body_text(0).map(|text| text.into_owned()))
        .unwrap_or_default()
}

/// A reply.
pub fn reply(letter: &Letter<'_>) -> Vec<u8> {
    let mut text = head(letter, "Re: your message");
    text.push_str("MIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n");
    text.push_str("Content-Transfer-Encoding: 8bit\r\n\r\n");
    text.push_str(letter.words);
    let (quoted, original) = letter.quoted;
    match quoted {
        Quoted::No => {}
        Quoted::Marked => {
            text.push_str(
                "\n\nOn Tue, 5 May 2026 at 10:00, A Clinic <checks@clinic.example> wrote:\n\n",
            );
            original.lines().for_each(|line| text.push_str(&format!("> {line}\n")));
        }
        Quoted::Unmarked => {
            text.push_str(
                "\n\n-----Original Message-----\nFrom: the clinic\nSubject: please look\n\n",
            );
            text.push_str(original);
        }
    }
    text.push_str("\r\n");
    text.into_bytes()
}

/// What a machine answers while a person is away.
pub fn absence(letter: &Letter<'_>) -> Vec<u8> {
    let mut text = head(letter, "Automatic reply");
    text.push_str("Auto-Submitted: auto-replied (vacation)\r\n\r\n");
    text.push_str("I am away and will read your mail next week. All clear until then.\r\n");
    text.into_bytes()
}

/// Bytes that are no words: a mail that was damaged on its way.
pub fn garbled(dice: &mut Dice, letter: &Letter<'_>) -> Vec<u8> {
    let mut bytes = head(letter, "Re: your message").into_bytes();
    bytes.extend_from_slice(b"Content-Type: text/plain; charset=utf-8\r\n\r\n");
    for _ in 0..dice.below(120) {
        bytes.push(u8::try_from(dice.below(256)).unwrap_or(b'?'));
    }
    bytes
}

/// What a mail system reports of a notice: that it failed for good, or that it is late.
pub fn delivery_report(number: usize, notice: &[u8], recipient: &str, action: &str) -> Vec<u8> {
    let sender = answered(notice).map_or_else(String::new, |answered| answered.reply_to);
    let status = if action == "failed" { "5.1.1" } else { "4.4.1" };
    let notice = String::from_utf8_lossy(notice);
    let head = notice.split("\r\n\r\n").next().unwrap_or_default();
    format!(
        "From: Mail delivery system <mailer-daemon@mx.home.example>\r\nTo: <{sender}>\r\n\
         Subject: Delivery status\r\nMessage-ID: <said-{number}@mx.home.example>\r\n\
         MIME-Version: 1.0\r\nAuto-Submitted: auto-replied\r\nReturn-Path: <>\r\n\
         Content-Type: multipart/report; report-type=delivery-status; boundary=\"=_r\"\r\n\r\n\
         --=_r\r\nContent-Type: text/plain\r\n\r\nAbout your message to {recipient}.\r\n\
         --=_r\r\nContent-Type: message/delivery-status\r\n\r\n\
         Reporting-MTA: dns; mx.home.example\r\n\r\nFinal-Recipient: rfc822; {recipient}\r\n\
         Action: {action}\r\nStatus: {status}\r\n\r\n\
         --=_r\r\nContent-Type: message/rfc822\r\n\r\n{head}\r\n\r\n(the text is left out)\r\n\
         --=_r--\r\n"
    )
    .into_bytes()
}

/// The number of what was said, from a letter's bytes.
pub fn number_of(raw: &[u8]) -> Option<usize> {
    const MARK: &[u8] = b"Message-ID: <said-";
    let from = raw.windows(MARK.len()).position(|window| window == MARK)? + MARK.len();
    let digits: Vec<u8> = raw[from..].iter().copied().take_while(u8::is_ascii_digit).collect();
    std::str::from_utf8(&digits).ok()?.parse().ok()
}

fn head(letter: &Letter<'_>, subject: &str) -> String {
    let Letter { number, from, to, at, .. } = letter;
    let mut text = format!(
        "From: <{from}>\r\nTo: <{to}>\r\nSubject: {subject}\r\n\
         Message-ID: <said-{number}@home.example>\r\nDate: {}\r\n",
        at.to_rfc2822()
    );
    if let Some(answers) = letter.answers {
        text.push_str(&format!(
            "In-Reply-To: {id}\r\nReferences: {id}\r\n",
            id = answers.message_id
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reply_goes_where_the_notice_says_and_is_known_again() {
        let notice =
            b"From: a@b.example\r\nReply-To: \"A clinic\"\r\n <checks+abc@clinic.example>\r\n\
                       Message-ID: <m1@clinic.example>\r\n\r\nPlease look.";
        let found = answered(notice).unwrap();
        assert_eq!(found.reply_to, "checks+abc@clinic.example");
        let raw = reply(&Letter {
            number: 42,
            from: "robin@home.example",
            to: &found.reply_to,
            answers: Some(&found),
            at: chrono::DateTime::UNIX_EPOCH,
            words: "No marks.",
            quoted: (Quoted::Marked, "Please look."),
        });
        assert_eq!(number_of(&raw), Some(42));
        let letter = crate::reply::letter::open(&raw);
        assert_eq!(letter.words.trim(), "No marks.");
        assert_eq!(letter.recipients, ["checks+abc@clinic.example"]);
        let report = delivery_report(7, notice, "robin@home.example", "failed");
        assert!(matches!(
            crate::reply::letter::open(&report).kind,
            crate::reply::letter::Kind::DeliveryReport(_)
        ));
        assert_eq!(number_of(&report), Some(7));
    }
}
