//! Mail between us and Python's `email` package: it reads what the service sends, and the program
//! reads what it composes.

use std::collections::BTreeSet;
use std::io::Write;
use std::process::Stdio;

use serde_json::Value;

use crate::clinic::Clinic;
use crate::mail::{Mail, Person};
use crate::program::fadewatch;
use crate::python;

/// Checks all mail that the people of a clinic have got, as Python reads it.
pub fn check_sent(clinic: &Clinic<'_>) {
    for person in [&clinic.robin, &clinic.kim, &clinic.seating] {
        let mails = person.mails();
        assert!(!mails.is_empty());
        let mut threads = BTreeSet::new();
        for mail in &mails {
            threads.insert(check_one(person, mail));
        }
        assert_eq!(threads.len(), 1, "one follow-up is more than one thread: {threads:?}");
    }
}

/// Checks one mail and returns its thread.
fn check_one(person: &Person<'_>, mail: &Mail) -> String {
    let read = python::run("service/read_mail.py", &[], &mail.raw);
    let read: Value = serde_json::from_str(&read).unwrap();
    let said = || format!("{}: {read:#}", mail.subject);
    assert_eq!(read["defects"], serde_json::json!([]), "{}", said());
    // Pictures stand beside the HTML that shows them (RFC 2387).
    let tree = read["tree"].as_str().unwrap().replace(" image/png", "");
    let shapes = [
        "multipart/alternative[text/plain text/html]",
        "multipart/alternative[text/plain multipart/related[text/html]]",
    ];
    assert!(shapes.contains(&tree.as_str()), "{}", said());
    assert_eq!(read["to"], serde_json::json!([person.address]));
    let reply_to = read["reply_to"][0].as_str().unwrap();
    let token = reply_to.split(['+', '@']).nth(1).unwrap();
    assert!(token.len() >= 26, "a token can be guessed: {reply_to}");
    let header = |name: &str| {
        let values = read["headers"][name].as_array().unwrap_or_else(|| panic!("no {name}"));
        assert_eq!(values.len(), 1, "{name}: {}", said());
        values[0].as_str().unwrap().to_owned()
    };
    assert_eq!(header("Auto-Submitted"), "auto-generated");
    assert_eq!(header("Mime-Version"), "1.0");
    assert!(header("Subject").ends_with("Skin checks: A7"), "{}", said());
    let id = header("Message-Id");
    assert!(id.starts_with('<') && id.ends_with("@clinic.test>"), "{id}");
    assert!(!id.contains(token), "the Message-ID gives the token away");
    assert_eq!(header("In-Reply-To"), header("References"));
    let age = chrono::Utc::now().timestamp() as f64 - read["date"].as_f64().unwrap();
    assert!((0.0..3600.0).contains(&age), "written {age} s ago");
    let text = read["text"].as_str().unwrap();
    for link in read["links"].as_array().unwrap() {
        check_link(link, reply_to, text);
    }
    let asks = ["Sitting starts", "Please look", "STOP"].iter().any(|s| mail.subject.contains(s));
    assert!(!asks || !read["links"].as_array().unwrap().is_empty(), "nothing to tap: {}", said());
    header("References")
}

fn check_link(link: &Value, reply_to: &str, text: &str) {
    assert_eq!(link["scheme"], "mailto", "{link}");
    assert_eq!(link["to"], reply_to, "{link}");
    assert_eq!(link["subject"], "Re: Skin checks: A7", "{link}");
    let body = link["body"].as_str().unwrap();
    assert!(text.contains(body.trim_end()), "{body:?} is not among the answers in the text");
    for name in ["subject", "body"] {
        assert_eq!(link["as_form"][name], link[name], "programs differ over {link}");
    }
}

/// What the program must make of the mails that the script composes: name, language, reading,
/// sites, minutes.
const COMPOSED: [(&str, &str, &str, &str, Option<u64>); 19] = [
    ("plain", "en", "clear", "", None),
    ("plain-with-quotes", "en", "marked", "ischium-left", None),
    ("quoted-printable", "en", "persisting", "ischium-left", Some(40)),
    ("base64", "en", "faded", "", Some(10)),
    ("eight-bit", "en", "marked", "heel-left", None),
    ("latin-1", "en", "marked", "ischium-left", None),
    ("latin-1-bare", "es", "marked", "ischium-left", None),
    ("windows-1252", "en", "persisting", "coccyx", Some(50)),
    ("utf-16", "en", "alarming", "buttock-right", None),
    ("flowed", "en", "persisting", "ischium-left", Some(40)),
    ("html-only", "en", "marked", "ischium-left", None),
    ("alternative", "en", "marked", "ischium-left", None),
    ("nested", "en", "persisting", "coccyx", Some(45)),
    ("text-attachment", "en", "marked", "heel-left", None),
    ("forwarded-as-attachment", "en", "unclear", "", None),
    ("photo-without-words", "en", "unclear", "", None),
    ("signed", "en", "alarming", "ischium-left", None),
    ("old-style", "en", "faded", "", Some(20)),
    ("plain", "de", "clear", "", None),
];

#[test]
fn mails_composed_by_python_are_read_as_they_were_meant() {
    let folder = tempfile::tempdir().unwrap();
    python::run("service/compose_mails.py", &[folder.path().to_str().unwrap()], b"");
    let mut wrong = Vec::new();
    for (name, language, reading, sites, minutes) in COMPOSED {
        let mail = std::fs::read(folder.path().join(name).with_extension("eml")).unwrap();
        let read = read(&mail, language);
        let expected = serde_json::json!([reading, sites, minutes]);
        let sites: Vec<&str> =
            read["sites"].as_array().unwrap().iter().map(|site| site.as_str().unwrap()).collect();
        let found = serde_json::json!([read["reading"], sites.join(" "), read["minutes"]]);
        if found != expected {
            wrong.push(format!("{name}: {found}, not {expected}, because {}", read["because"]));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    let composed = std::fs::read_dir(folder.path()).unwrap().count();
    let tried: BTreeSet<&str> = COMPOSED.iter().map(|(name, ..)| *name).collect();
    assert_eq!(composed, tried.len(), "a composed mail was not tried");
}

fn read(mail: &[u8], language: &str) -> Value {
    let mut child = fadewatch()
        .args(["read", "--mail", "--json", "--language", language])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(mail).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    serde_json::from_slice(&output.stdout).unwrap()
}
