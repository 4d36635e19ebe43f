//! What composed mails look like, and what cannot be composed.

use chrono::{TimeZone, Utc};
use mail_parser::{MessageParser, MimeHeaders};

use super::super::address::{Address, Mailbox};
use super::*;

fn draft() -> Draft {
    let address = |text| Address::parse(text).unwrap();
    Draft {
        from: Mailbox::new("Seating clinic", address("robot@clinic.example")),
        to: Mailbox::new("Zoë Žižek", address("zoe@home.example")),
        reply_to: Some(Mailbox::new("", address("robot+tok3n@clinic.example"))),
        message_id: "<look.1@clinic.example>".into(),
        in_reply_to: Some("<start@clinic.example>".into()),
        references: vec!["<start@clinic.example>".into()],
        subject: "Skin check now – después".into(),
        date: Utc.with_ymd_and_hms(2026, 3, 4, 5, 6, 7).unwrap(),
        text: "Please look now.\nGrüße\n".into(),
        html: None,
        inline_images: vec![],
        calendar: None,
        attachments: vec![],
        extra_headers: vec![],
    }
}

fn full() -> Draft {
    Draft {
        html: Some("<p>Please look now. <img src=\"cid:line@clinic.example\"></p>".into()),
        inline_images: vec![InlineImage {
            content_id: "line@clinic.example".into(),
            png: vec![0x89, b'P', b'N', b'G', 0, 255],
        }],
        calendar: Some("BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n".into()),
        attachments: vec![Attachment {
            name: "plän.ics".into(),
            content_type: "text/calendar".into(),
            bytes: b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n".to_vec(),
        }],
        extra_headers: vec![("X-Look".into(), "17".into())],
        ..draft()
    }
}

/// The content types of the tree, children in brackets.
fn shape(raw: &[u8]) -> String {
    fn part(message: &mail_parser::Message<'_>, id: u32) -> String {
        let part = &message.parts[id as usize];
        let kind = part.content_type().unwrap();
        let name = format!("{}/{}", kind.ctype(), kind.subtype().unwrap());
        match part.sub_parts() {
            Some(children) => {
                let inner: Vec<_> = children.iter().map(|&c| part_of(message, c)).collect();
                format!("{name}[{}]", inner.join(" "))
            }
            None => name,
        }
    }
    fn part_of(message: &mail_parser::Message<'_>, id: u32) -> String {
        part(message, id)
    }
    part(&MessageParser::default().parse(raw).unwrap(), 0)
}

#[test]
fn a_full_mail_has_every_level_and_a_short_one_none() {
    assert_eq!(
        shape(&compose(&full()).unwrap()),
        "multipart/mixed[multipart/alternative[text/plain multipart/related[text/html image/png] \
         text/calendar] text/calendar]"
    );
    assert_eq!(shape(&compose(&draft()).unwrap()), "text/plain");
    let html_only = Draft { html: Some("<p>x</p>".into()), ..draft() };
    assert_eq!(shape(&compose(&html_only).unwrap()), "multipart/alternative[text/plain text/html]");
}

#[test]
fn the_words_and_headers_come_back_as_they_were_given() {
    let raw = compose(&full()).unwrap();
    let message = MessageParser::default().parse(&raw).unwrap();
    assert_eq!(message.subject(), Some("Skin check now – después"));
    assert_eq!(message.to().unwrap().first().unwrap().name(), Some("Zoë Žižek"));
    let reply_to = message.reply_to().unwrap().first().unwrap();
    assert_eq!(reply_to.address(), Some("robot+tok3n@clinic.example"));
    assert_eq!(message.message_id(), Some("look.1@clinic.example"));
    assert_eq!(message.in_reply_to().as_text(), Some("start@clinic.example"));
    assert_eq!(message.header("Auto-Submitted").unwrap().as_text(), Some("auto-generated"));
    assert_eq!(message.header("X-Look").unwrap().as_text(), Some("17"));
    assert_eq!(message.date().unwrap().to_rfc3339(), "2026-03-04T05:06:07Z");
    assert_eq!(message.body_text(0).unwrap().trim_end(), "Please look now.\r\nGrüße");
    assert_eq!(message.attachment(2).map(|a| a.attachment_name()), Some(Some("plän.ics")));
}

#[test]
fn the_same_draft_gives_the_same_bytes_in_plain_ascii() {
    let raw = compose(&full()).unwrap();
    assert_eq!(raw, compose(&full()).unwrap());
    assert!(raw.is_ascii());
    let text = String::from_utf8(raw).unwrap();
    assert!(text.split("\r\n").all(|line| line.len() <= 998 && !line.contains(['\r', '\n'])));
    let other = Draft { message_id: "<look.2@clinic.example>".into(), ..full() };
    let boundary = |text: &str| text.split("boundary=\"").nth(1).unwrap()[..35].to_owned();
    let other_text = String::from_utf8(compose(&other).unwrap()).unwrap();
    assert_ne!(boundary(&text), boundary(&other_text));
}

fn html_part(html: &str) -> (String, String) {
    let raw = compose(&Draft { html: Some(html.to_owned()), ..draft() }).unwrap();
    let text = String::from_utf8(raw.clone()).unwrap();
    let part = text.split("Content-Type: text/html").nth(1).unwrap();
    let (head, body) = part.split_once("\r\n\r\n").unwrap();
    let how = head.split("Content-Transfer-Encoding: ").nth(1).unwrap();
    let body = body.split("\r\n--=_").next().unwrap();
    (how.split("\r\n").next().unwrap().to_owned(), body.to_owned())
}

#[test]
fn a_page_goes_as_it_stands_where_it_can() {
    let page = format!("<p class=\"a\">\n{}é – ü</p>\n", "much as = it stands ".repeat(20));
    let (how, body) = html_part(&page);
    let sent = page.replace('é', "&#233;").replace('–', "&#8211;").replace('ü', "&#252;");
    assert_eq!((how.as_str(), body), ("7bit", sent.replace('\n', "\r\n")));
    let raw = compose(&Draft { html: Some(page), ..draft() }).unwrap();
    let read = MessageParser::default().parse(&raw).unwrap();
    assert_eq!(read.body_html(0).unwrap(), sent.replace('\n', "\r\n"));
}

#[test]
fn a_page_that_cannot_go_as_it_stands_is_encoded() {
    for page in ["α".repeat(20), "a".repeat(999)] {
        let (how, _) = html_part(&page);
        assert_ne!(how, "7bit", "{page}");
        let raw = compose(&Draft { html: Some(page.clone()), ..draft() }).unwrap();
        assert!(raw.is_ascii());
        let read = MessageParser::default().parse(&raw).unwrap();
        assert_eq!(read.body_html(0).unwrap(), page);
    }
}

#[test]
fn nothing_in_a_draft_can_add_a_header_line() {
    let evil = "x\r\nBcc: spy@outside.example";
    let evil_mailbox = || Mailbox::new(evil, Address::parse("a@home.example").unwrap());
    let attachment = |name: &str, kind: &str| Attachment {
        name: name.into(),
        content_type: kind.into(),
        bytes: vec![1],
    };
    let extra = |name: &str, value: &str| vec![(name.to_owned(), value.to_owned())];
    let drafts = [
        Draft { from: evil_mailbox(), ..draft() },
        Draft { to: evil_mailbox(), ..draft() },
        Draft { reply_to: Some(evil_mailbox()), ..draft() },
        Draft { subject: evil.into(), ..draft() },
        Draft { subject: "a\u{2028}b".into(), ..draft() },
        Draft { message_id: format!("<{evil}@x>"), ..draft() },
        Draft { message_id: "look@clinic.example".into(), ..draft() },
        Draft { in_reply_to: Some("<a@b>\n <c@d>".into()), ..draft() },
        Draft { references: vec!["<a b@c>".into()], ..draft() },
        Draft { attachments: vec![attachment(evil, "text/plain")], ..draft() },
        Draft { attachments: vec![attachment("a", "text/plain\r\nX-Y: z")], ..draft() },
        Draft { attachments: vec![attachment("a", "nonsense")], ..draft() },
        Draft { extra_headers: extra("X-A", evil), ..draft() },
        Draft { extra_headers: extra("X-A: b\r\nX-C", "d"), ..draft() },
        Draft { extra_headers: extra("Bcc", "spy@outside.example"), ..draft() },
        Draft { extra_headers: extra("", "d"), ..draft() },
        Draft {
            inline_images: vec![InlineImage { content_id: "a>\r\nb".into(), png: vec![] }],
            ..draft()
        },
    ];
    for (at, draft) in drafts.iter().enumerate() {
        assert!(compose(draft).is_err(), "draft {at} was composed");
    }
}

#[test]
fn quotes_and_brackets_in_a_name_stay_in_the_name() {
    let name = "\"Ann\" <ann@x.example>, Bo; (c) \\ d";
    let to = Mailbox::new(name, Address::parse("ann@home.example").unwrap());
    let raw = compose(&Draft { to, ..draft() }).unwrap();
    let message = MessageParser::default().parse(&raw).unwrap();
    let people: Vec<_> = message.to().unwrap().iter().collect();
    assert_eq!(people.len(), 1);
    assert_eq!(people[0].address(), Some("ann@home.example"));
    assert_eq!(people[0].name(), Some(name));
}

#[test]
fn debug_output_shows_only_the_id_of_a_mail() {
    let shown = format!("{:?}", draft());
    assert!(shown.contains("look.1") && !shown.contains("Please") && !shown.contains("zoe"));
}
