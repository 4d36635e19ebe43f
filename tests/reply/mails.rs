//! Whole messages: the fixtures, read as the service reads them.
//!
//! Never here: replies without a message around them.
//! Promises: every fixture is read exactly as labelled.

use fadewatch::care::Minutes;
use fadewatch::reply::Lexicons;
use fadewatch::reply::letter::{Delivery, Kind, open, read_letter};

use crate::labelled::{Labelled, at_of, folder, sites_of, step_of};

fn mails() -> Vec<(Labelled, Vec<u8>)> {
    let mut all = Vec::new();
    let entries = |name: &str| std::fs::read_dir(folder().join(name)).expect("a folder of mails");
    for entry in entries("mail").chain(entries("mail-own")) {
        let path = entry.expect("a file").path();
        if path.extension().is_some_and(|e| e == "json") {
            let label = std::fs::read_to_string(&path).expect("a label");
            let raw = std::fs::read(path.with_extension("eml")).expect("its message");
            all.push((serde_json::from_str(&label).expect("a labelled message"), raw));
        }
    }
    all
}

#[test]
fn whole_messages_are_all_read_as_labelled() {
    let lexicons = Lexicons::shipped();
    let mails = mails();
    assert!(mails.len() >= 103);
    for (label, raw) in mails {
        let language = label.lang.as_deref().unwrap_or("en");
        let found = read_letter(&lexicons, language, label.answering(), &open(&raw), None);
        let verdict = &found.verdict;
        assert!(label.is_read_right(verdict), "{}: {found:?}", label.id);
        assert_eq!(sites_of(verdict), label.sites_named(), "{}", label.id);
        assert_eq!(verdict.minutes.map(Minutes::count), label.minutes, "{}", label.id);
        assert_eq!(at_of(verdict), label.at, "{}", label.id);
        assert_eq!(step_of(verdict), label.step, "{}", label.id);
    }
}

#[test]
fn the_words_are_the_writers_own() {
    let signed = ["html-signature-table"];
    for (label, raw) in mails() {
        let letter = open(&raw);
        // Bytes under the name of another charset give other signs than were written.
        if letter.kind != Kind::Person || label.id.starts_with("wrong-charset") {
            continue;
        }
        // A pictograph may come as a picture.
        let says = |word: &&str| word.contains(char::is_alphanumeric);
        let spoken =
            |text: &str| text.split_whitespace().filter(says).collect::<Vec<_>>().join(" ");
        let (found, written) = (spoken(&letter.words), spoken(&label.text));
        // What was begun in the subject is heard with the words, and is none of them.
        let begun = letter.subject_words.as_deref().map_or("", str::trim);
        let written = written.strip_prefix(begun).map_or(written.as_str(), str::trim);
        // A signature without dashes may stay below the words; they are all there, and first.
        assert!(found.starts_with(written), "{}: {found:?}", label.id);
        if !signed.contains(&label.id.as_str()) {
            assert_eq!(found, written, "{}", label.id);
        }
    }
}

#[test]
fn delivery_reports_name_the_recipient_the_status_and_our_message() {
    let raw = std::fs::read(folder().join("mail/dsn-failure.eml")).expect("a fixture");
    let Kind::DeliveryReport(reports) = open(&raw).kind else { panic!("not a report") };
    assert_eq!(reports.len(), 1);
    assert_eq!(reports[0].address, "carer-old@home.example");
    assert_eq!(reports[0].action, Delivery::Failed);
    assert_eq!(reports[0].status.as_deref(), Some("5.1.1"));
    assert_eq!(reports[0].original_message_id.as_deref(), Some("p.1277.4@followup.example"));
    let raw = std::fs::read(folder().join("mail/dsn-delay.eml")).expect("a fixture");
    let Kind::DeliveryReport(reports) = open(&raw).kind else { panic!("not a report") };
    assert_eq!(reports[0].action, Delivery::Delayed);
}
