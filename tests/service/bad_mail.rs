//! Mail that answers nothing, or means harm: set aside, shown to the clinic, and in nobody's way.

use std::time::{Duration, Instant};

use fadewatch::follow_up::Event;
use mail_parser::MessageParser;

use crate::clinic::{Clinic, Day, minute_in};
use crate::mail::Mail;
use crate::peers::shared;
use crate::record;
use crate::submission;

const USER: &str = "box9";
const STRANGER: &str = "someone@outside.test";
/// How deep a mail of parts within parts goes.
const DEPTH: usize = 1000;
/// More than is ever taken whole (25 MiB).
const HUGE_BYTES: usize = 26 * 1024 * 1024 + 100_000;

fn mail(from: &str, rest: &str) -> Vec<u8> {
    let date = chrono::Utc::now().to_rfc2822();
    format!("From: Somebody <{from}>\r\nDate: {date}\r\n{}", rest.replace('\n', "\r\n"))
        .into_bytes()
}

fn nested(from: &str) -> Vec<u8> {
    let mut text = String::from("Subject: nested\nMIME-Version: 1.0\n");
    for level in 0..DEPTH {
        text.push_str(&format!(
            "Content-Type: multipart/mixed; boundary=\"b{level}\"\n\n--b{level}\n"
        ));
    }
    text.push_str("Content-Type: text/plain\n\nAll fine, no marks\n");
    for level in (0..DEPTH).rev() {
        text.push_str(&format!("--b{level}--\n"));
    }
    mail(from, &text)
}

fn nested_mails(from: &str) -> Vec<u8> {
    let mut text = String::from("Subject: nested mails\nMIME-Version: 1.0\n");
    for _ in 0..DEPTH {
        text.push_str("Content-Type: message/rfc822\n\n");
    }
    text.push_str("Content-Type: text/plain\n\nAll fine, no marks\n");
    mail(from, &text)
}

fn quotations(from: &str) -> Vec<u8> {
    let html = "<blockquote>".repeat(70_000);
    mail(from, &format!("Subject: quotes\nContent-Type: text/html\n\n{html}\nAll fine, no marks\n"))
}

fn garbage() -> Vec<u8> {
    let bytes = (0x80..=0xffu8).chain(1..=9).chain(14..=31).cycle().take(20_000);
    let mut lines = b"\xff\xfe: \x80\x81\r\n".to_vec();
    for (at, byte) in bytes.enumerate() {
        lines.push(byte);
        if at % 900 == 899 {
            lines.extend(b"\r\n");
        }
    }
    lines
}

/// What is sent into the service's mailbox: from whom, to which address, what.
fn attacks(clinic: &Clinic<'_>, request: &Mail, others: &Mail) -> Vec<(String, String, Vec<u8>)> {
    let robin = &clinic.robin.address;
    let plain = clinic.address();
    let token = &request.reply_to;
    let clear = "Subject: Re: look\n\nAll fine, no marks\n";
    let huge = format!(
        "Subject: photo\n\nAll fine, no marks\n\n{}",
        "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcd\n".repeat(HUGE_BYTES / 62)
    );
    let injecting = "Subject: =?utf-8?Q?hello=0D=0ABcc:_victim@clinic.test=0D=0A=0D=0Abody?=\n\
        Reply-To: <bcc@clinic.test>\n\nHello\nBcc: victim@clinic.test\n.\nMAIL FROM:<x@y.test>\n";
    let injected_from = format!(
        "From: =?utf-8?Q?A=0D=0ABcc:_victim@clinic.test?= <{STRANGER}>\r\nSubject: x\r\n\r\nHello\r\n"
    );
    let of = |from: &str, to: &str, raw: Vec<u8>| (from.to_owned(), to.to_owned(), raw);
    vec![
        of(robin, &plain, mail(robin, clear)),
        of(robin, &others.reply_to, mail(robin, clear)),
        of(STRANGER, token, mail(STRANGER, clear)),
        of(STRANGER, &plain, garbage()),
        of(robin, token, nested(robin)),
        of(robin, token, nested_mails(robin)),
        of(robin, token, quotations(robin)),
        of(robin, token, mail(robin, &huge)),
        of(STRANGER, &plain, mail(STRANGER, injecting)),
        of(STRANGER, &plain, injected_from.into_bytes()),
        of(STRANGER, &format!("{}+{}@clinic.test", USER, "a".repeat(40)), mail(STRANGER, clear)),
    ]
}

#[test]
fn hostile_and_misdirected_mail_is_set_aside_and_shown_and_holds_nothing_up() {
    let clinic = Clinic::new(shared(), USER);
    let day = Day { look_at: vec![minute_in(20)], ..Day::default() };
    clinic.enroll(&day);
    clinic.enroll_another("B8", &day, &[("carla", &clinic.kim.address)]);
    let mut service = clinic.serve();
    let request = clinic.robin.await_mail("Skin check (");
    let others = clinic.kim.await_mail("Skin check (");

    let attacks = attacks(&clinic, &request, &others);
    for (from, to, raw) in &attacks {
        submission::send(shared(), from, to, raw);
    }
    // A server strips what it will not carry, so zeros go into the folder by hand.
    let mut zeros = mail(STRANGER, "Subject: zeros\n\nAll fine\n");
    zeros.extend([0; 5000]);
    shared().put(USER, "new", "1.zeros", &zeros);
    let sent = attacks.len() + 1;

    await_inbox(&clinic, sent);
    let inbox = record::inbox(&clinic.data());
    let aside = inbox.iter().filter(|(status, _)| status == "set-aside").count();
    let filed: Vec<_> = inbox.iter().filter(|(status, _)| status != "set-aside").collect();
    let has = |note: &str| inbox.iter().filter(|(_, of)| of.contains(note)).count();
    assert_eq!(has("no token of ours"), 1, "{inbox:?}");
    assert_eq!(has("token of somebody else"), 2, "{inbox:?}");
    assert_eq!(has("too large or unreadable"), 1, "{inbox:?}");
    assert_eq!(has("cannot be read"), 2, "{inbox:?}");
    assert_eq!(has("unknown sender"), 5, "{inbox:?}");
    // What comes from the right person by the right token is an answer, if an odd one.
    assert_eq!(aside + filed.len(), sent, "{inbox:?}");
    let shown = clinic.seating.await_mails("A mail was set aside", aside);
    assert_eq!(shown.len(), aside);
    for mail in &shown {
        assert_is_one_plain_notice(&clinic, mail);
    }

    // Nobody's answer was taken for all clear but an answer by the right person and token.
    let calm = |event: &Event| matches!(event, Event::Found { .. });
    assert!(record::count(&clinic.data(), calm) <= 1, "{inbox:?}");
    clinic.robin.reply(&request, "Redness on the left sit bone, still there after 40 minutes");
    clinic.seating.await_mail("STOP: a mark has lasted");
    record::check(&clinic.data());
    service.terminate();
    assert!(service.ended().0.success());
    assert!(!service.log().contains("panicked"), "{}", service.log());
}

fn await_inbox(clinic: &Clinic<'_>, count: usize) {
    let begun = Instant::now();
    let settled = || {
        let inbox = record::inbox(&clinic.data());
        inbox.iter().filter(|(status, _)| status == "set-aside" || status == "filed").count()
    };
    while settled() < count {
        let inbox = record::inbox(&clinic.data());
        assert!(begun.elapsed() < Duration::from_secs(90), "of {count} mails: {inbox:#?}");
        std::thread::sleep(Duration::from_millis(200));
    }
}

/// No header of a notice comes from outside, and it went to one person only.
fn assert_is_one_plain_notice(clinic: &Clinic<'_>, mail: &Mail) {
    let message = MessageParser::default().parse(&mail.raw).unwrap();
    for name in ["Bcc", "Cc", "Victim"] {
        assert!(message.header(name).is_none(), "{name}: {}", mail.text);
    }
    for name in ["From", "To", "Subject", "Reply-To", "Message-ID"] {
        assert_eq!(message.header_values(name).count(), 1, "{name}");
    }
    let to = message.to().unwrap().first().unwrap().address().unwrap();
    assert_eq!(to, clinic.seating.address);
    let reply_to = message.reply_to().unwrap().first().unwrap().address().unwrap();
    assert!(reply_to.starts_with(&format!("{USER}+")), "{reply_to}");
}
