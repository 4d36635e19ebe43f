//! What we compose, read by a parser made elsewhere: Python's `email` package.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use chrono::{TimeZone, Utc};
use fadewatch::post::{Attachment, Draft, InlineImage, Mailbox, compose};
use serde_json::{Value, json};

use crate::settings::address;

fn read_by_python(mail: &[u8]) -> Value {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/post/parse_mail.py");
    let mut python = Command::new("python3")
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 is there");
    python.stdin.take().unwrap().write_all(mail).unwrap();
    let output = python.wait_with_output().unwrap();
    assert!(output.status.success(), "python could not read the mail");
    serde_json::from_slice(&output.stdout).unwrap()
}

fn draft() -> Draft {
    Draft {
        from: Mailbox::new("Sitz-Ambulanz Süd", address("robot@clinic.example")),
        to: Mailbox::new("Ana \"Ani\" García, senior", address("ana@home.example")),
        reply_to: Some(Mailbox::new("", address("robot+t0k3n@clinic.example"))),
        message_id: "<look-17.1@clinic.example>".into(),
        in_reply_to: Some("<start-3@clinic.example>".into()),
        references: (0..12).map(|n| format!("<start-{n:040}@clinic.example>")).collect(),
        subject: "Hautkontrolle jetzt: bitte nachsehen – auch an den Stellen, die man leicht \
                  übersieht, und gleich antworten"
            .into(),
        date: Utc.with_ymd_and_hms(2026, 10, 25, 0, 30, 0).unwrap(),
        text: format!(
            "Bitte jetzt nachsehen.\n\n.\nFrom here\n{}\nGrüße\n",
            "langes Wort ".repeat(200)
        ),
        html: None,
        inline_images: vec![],
        calendar: None,
        attachments: vec![],
        extra_headers: vec![],
    }
}

fn full() -> Draft {
    Draft {
        html: Some(format!("<p>Bitte jetzt nachsehen.</p>{}", "<b>ü</b>".repeat(500))),
        inline_images: vec![InlineImage {
            content_id: "line@clinic.example".into(),
            png: vec![0x89; 3000],
        }],
        calendar: Some(
            "BEGIN:VCALENDAR\r\nSUMMARY:Hautkontrolle für Ana\r\nEND:VCALENDAR\r\n".into(),
        ),
        attachments: vec![
            Attachment {
                name: "Übersicht der Kontrollen für die Woche nach der Anpassung des Sitzes.ics"
                    .into(),
                content_type: "text/calendar; charset=utf-8".into(),
                bytes: b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n".to_vec(),
            },
            Attachment {
                name: "sheet.pdf".into(),
                content_type: "application/pdf".into(),
                bytes: (0..=255).collect(),
            },
        ],
        ..draft()
    }
}

#[test]
fn python_finds_no_defect_in_any_shape_of_mail() {
    let html_only = Draft { calendar: None, inline_images: vec![], attachments: vec![], ..full() };
    let no_html = Draft { html: None, inline_images: vec![], attachments: vec![], ..full() };
    let file_only = Draft { html: None, inline_images: vec![], calendar: None, ..full() };
    for (draft, tree) in [
        (draft(), "text/plain"),
        (html_only, "multipart/alternative[text/plain text/html]"),
        (no_html, "multipart/alternative[text/plain text/calendar]"),
        (file_only, "multipart/mixed[text/plain text/calendar application/pdf]"),
        (
            full(),
            "multipart/mixed[multipart/alternative[text/plain multipart/related[text/html \
             image/png] text/calendar] text/calendar application/pdf]",
        ),
    ] {
        let read = read_by_python(&compose(&draft).unwrap());
        assert_eq!(read["defects"], json!([]), "{tree}");
        assert_eq!(read["tree"], tree);
    }
}

#[test]
fn python_reads_back_every_word_and_header() {
    let draft = full();
    let read = read_by_python(&compose(&draft).unwrap());
    assert_eq!(read["from"], json!([["Sitz-Ambulanz Süd", "robot@clinic.example"]]));
    assert_eq!(read["to"], json!([["Ana \"Ani\" García, senior", "ana@home.example"]]));
    assert_eq!(read["reply_to"], json!([["", "robot+t0k3n@clinic.example"]]));
    assert_eq!(read["subject"], json!(draft.subject));
    assert_eq!(read["date"], "2026-10-25T00:30:00+00:00");
    assert_eq!(read["message_id"], "<look-17.1@clinic.example>");
    assert_eq!(read["references"], json!(draft.references.join(" ")));
    assert_eq!(read["auto_submitted"], "auto-generated");
    let lines = |text: &Value| text.as_str().unwrap().replace("\r\n", "\n").trim_end().to_owned();
    assert_eq!(lines(&read["text"]), draft.text.trim_end());
    assert_eq!(lines(&read["html"]), draft.html.unwrap());
    assert_eq!(read["content_ids"], json!(["<line@clinic.example>"]));
    assert_eq!(read["methods"], json!(["PUBLISH"]));
    assert_eq!(read["image_bytes"], json!([3000]));
    assert_eq!(read["files"], json!([[draft.attachments[0].name, 32], ["sheet.pdf", 256]]));
}
