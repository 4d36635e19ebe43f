//! A reply as common mail programs write it: the words on top, the mail they answer below.
//!
//! Never here: what is said.
//! Promises: what the service must see through is really there: quoted text with our own words in
//! it, attribution lines, signatures, HTML.

use super::inbox::{Button, Mail};
use crate::follow_up::{Calendar, Instant};

/// How somebody's mail program writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Program {
    /// Plain text, with the quoted lines marked by `>`.
    Desktop,
    /// Plain text and HTML, with a signature line and a block of quoted HTML.
    Phone,
    /// HTML alone.
    Web,
}

/// Who writes.
#[derive(Clone, Debug)]
pub(super) struct Writer {
    pub(super) name: String,
    pub(super) mail: String,
    pub(super) program: Program,
}

/// A mail with its address.
pub(super) struct Reply {
    pub(super) to: String,
    pub(super) raw: Vec<u8>,
}

/// Answers a mail in own words, as the button 'reply' does.
pub(super) fn in_words(
    writer: &Writer,
    mail: &Mail,
    words: &str,
    at: Instant,
    calendar: &Calendar,
) -> Reply {
    let subject = format!("Re: {}", mail.subject);
    let written = calendar.local(mail.sent_at).format("%a, %-d %b %Y at %H:%M").to_string();
    let attribution = format!("On {written}, {} <{}> wrote:", mail.from_name, mail.answer_to);
    let body = match writer.program {
        Program::Desktop => {
            let quoted: String = mail.text.lines().map(|line| format!("> {line}\n")).collect();
            part("plain", &format!("{words}\n\n-- \n{}\n\n{attribution}\n{quoted}", writer.name))
        }
        Program::Phone => {
            let quoted: String = mail.text.lines().map(|line| format!("> {line}\n")).collect();
            let plain = format!("{words}\n\nSent from my phone\n\n{attribution}\n\n{quoted}");
            two_parts(&part("plain", &plain), &part("html", &html(mail, words, &attribution)))
        }
        Program::Web => part("html", &html(mail, words, &attribution)),
    };
    let mut head = head(writer, &mail.answer_to, &subject, at, calendar, &mail.message_id);
    head.push_str(&format!("In-Reply-To: <{}>\r\n", mail.message_id));
    let thread: Vec<String> =
        mail.references.iter().chain([&mail.message_id]).map(|id| format!("<{id}>")).collect();
    head.push_str(&format!("References: {}\r\n", thread.join("\r\n ")));
    Reply { to: mail.answer_to.clone(), raw: (head + &body).into_bytes() }
}

/// Sends what a tap on a button made ready.
pub(super) fn by_tap(
    writer: &Writer,
    mail: &Mail,
    button: &Button,
    at: Instant,
    calendar: &Calendar,
) -> Reply {
    let head = head(writer, &button.to, &button.subject, at, calendar, &mail.message_id);
    let raw = head + &part("plain", &format!("{}\n", button.body));
    Reply { to: button.to.clone(), raw: raw.into_bytes() }
}

fn head(
    writer: &Writer,
    to: &str,
    subject: &str,
    at: Instant,
    calendar: &Calendar,
    answered: &str,
) -> String {
    let (local, domain) = writer.mail.split_once('@').unwrap_or((&writer.mail, "home.example"));
    let key = answered.split('@').next().unwrap_or_default();
    format!(
        "From: {} <{}>\r\nTo: <{to}>\r\nSubject: {}\r\nDate: {}\r\n\
         Message-ID: <{local}.{key}.{}@{domain}>\r\nMIME-Version: 1.0\r\n",
        encoded_word(&writer.name),
        writer.mail,
        encoded_word(subject),
        calendar.local(at).to_rfc2822(),
        at.timestamp(),
    )
}

/// RFC 2047, in UTF-8 by the Q encoding; plain text stays as it is.
fn encoded_word(text: &str) -> String {
    if text.is_ascii() {
        return text.to_owned();
    }
    let words = text.split(' ').map(|word| {
        if word.is_ascii() {
            return word.to_owned();
        }
        let bytes: String = word.bytes().map(|byte| format!("={byte:02X}")).collect();
        format!("=?utf-8?q?{bytes}?=")
    });
    words.collect::<Vec<_>>().join(" ")
}

fn part(kind: &str, text: &str) -> String {
    let text = text.replace('\n', "\r\n");
    format!(
        "Content-Type: text/{kind}; charset=utf-8\r\nContent-Transfer-Encoding: 8bit\r\n\r\n{text}"
    )
}

fn two_parts(first: &str, second: &str) -> String {
    let boundary = "=_two-ways";
    format!(
        "Content-Type: multipart/alternative; boundary=\"{boundary}\"\r\n\r\n\
         --{boundary}\r\n{first}\r\n--{boundary}\r\n{second}\r\n--{boundary}--\r\n"
    )
}

fn html(mail: &Mail, words: &str, attribution: &str) -> String {
    let quoted = mail.text.lines().map(escaped).collect::<Vec<_>>().join("<br>\n");
    format!(
        "<html><body><div dir=\"auto\">{}</div><br>\n<div>{}<br>\n\
         <blockquote type=\"cite\" style=\"margin:0 0 0 .8ex;border-left:1px solid #ccc\">\n\
         {quoted}\n</blockquote></div></body></html>\n",
        escaped(words),
        escaped(attribution)
    )
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reply::letter::{Kind, open};

    fn mail() -> Mail {
        Mail {
            subject: "Please look at the skin (10:15) · Skin checks: A7".to_owned(),
            from_name: "A clinic".to_owned(),
            answer_to: "checks+tok@clinic.example".to_owned(),
            message_id: "abc@clinic.example".to_owned(),
            sent_at: chrono::DateTime::from_timestamp(1_772_799_000, 0).unwrap(),
            references: vec!["thread@clinic.example".to_owned()],
            text: "Ada: please look.\n\n- No marks.\n- Broken skin, a blister.\n".to_owned(),
            buttons: Vec::new(),
        }
    }

    #[test]
    fn whatever_the_program_the_service_finds_the_writers_own_words_and_nothing_of_ours() {
        let calendar = Calendar::new("Europe/London").unwrap();
        let at = chrono::DateTime::from_timestamp(1_772_800_000, 0).unwrap();
        for program in [Program::Desktop, Program::Phone, Program::Web] {
            let writer =
                Writer {
                    name: "María".to_owned(), mail: "maria@casa.example".to_owned(), program
                };
            let reply = in_words(&writer, &mail(), "Todo está bien.", at, &calendar);
            let letter = open(&reply.raw);
            assert_eq!(letter.kind, Kind::Person);
            assert_eq!(letter.words.trim(), "Todo está bien.", "{program:?}");
            assert_eq!(letter.from.as_deref(), Some("maria@casa.example"));
            assert_eq!(letter.recipients, ["checks+tok@clinic.example"]);
            assert_eq!(letter.in_reply_to, ["abc@clinic.example"]);
            assert_eq!(letter.date, Some(at));
        }
    }
}
