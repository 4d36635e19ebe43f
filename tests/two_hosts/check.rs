//! What must hold after any number of kills, read past our own program.

use std::collections::BTreeSet;

use crate::clinic::{Clinic, by_id};

/// What the check counted.
#[derive(Debug)]
pub struct Found {
    pub mails: usize,
    pub sent_again: usize,
    pub answers: usize,
    pub set_aside: usize,
    pub entries: usize,
}

impl std::fmt::Display for Found {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { mails, sent_again, answers, set_aside, entries } = self;
        write!(
            f,
            "{mails} mails of which {sent_again} went out again under their Message-ID, {answers} \
             answers of which {set_aside} were set aside as begun twice, {entries} journal entries"
        )
    }
}

/// Whether no mail waits, either way.
pub fn is_calm(clinic: &Clinic) -> bool {
    let waiting = "SELECT (SELECT count(*) FROM outbox WHERE status IN ('queued', 'sending'))
                        + (SELECT count(*) FROM inbox WHERE status IN ('new', 'taken'))";
    let lying = std::fs::read_dir(clinic.path("mail/in/new")).map_or(0, Iterator::count);
    lying == 0 && clinic.number(waiting) == 0
}

/// All of it.
pub fn all(clinic: &Clinic, clients: &[String], answered: usize) -> Found {
    let (mails, sent_again) = mails(clinic);
    let set_aside = replies(clinic, answered);
    told_aside(clinic, set_aside);
    looks(clinic, clients);
    let verified = clinic.run(1, &["journal", "verify"]);
    let entries = clinic.number("SELECT count(*) FROM journal");
    assert!(verified.contains(&entries.to_string()), "{verified}");
    Found { mails, sent_again, answers: answered, set_aside, entries }
}

/// Each mail went to its person, and nothing else did: one Message-ID, one content, one cause.
fn mails(clinic: &Clinic) -> (usize, usize) {
    let copies = by_id(clinic.mails());
    for same in copies.values() {
        assert!(
            same.iter().all(|copy| copy.raw == same[0].raw && copy.to == same[0].to),
            "two mails under one Message-ID: {}",
            same[0].id
        );
    }
    let arrived: BTreeSet<String> = copies.keys().map(|id| format!("<{id}>")).collect();
    let outbox =
        clinic.rows("SELECT message_id, status FROM outbox JOIN outbox_mail ON outbox = id");
    let sent: BTreeSet<String> = outbox
        .iter()
        .filter(|row| row[1] == "sent")
        .map(|row| format!("<{}>", row[0].trim_matches(['<', '>'])))
        .collect();
    assert_eq!(arrived, sent, "what arrived is not what counts as sent");
    let other: Vec<_> =
        outbox.iter().filter(|row| !["sent", "withdrawn"].contains(&row[1].as_str())).collect();
    assert!(other.is_empty(), "{other:?}");
    let twice = clinic.rows(
        "SELECT cause, person_kind, person_ref, target, target_number, count(*) FROM outbox
         WHERE cause IS NOT NULL GROUP BY 1, 2, 3, 4, 5 HAVING count(*) > 1",
    );
    assert_eq!(twice, Vec::<Vec<String>>::new(), "one entry led to two mails to one person");
    let all: usize = copies.values().map(Vec::len).sum();
    (copies.len(), all - copies.len())
}

/// Each reply was taken once, and counted once or set aside and told. Returns how many were set
/// aside.
fn replies(clinic: &Clinic, answered: usize) -> usize {
    let kept = clinic.rows("SELECT status, note, count(*) FROM inbox GROUP BY 1, 2");
    let count = |is_like: fn(&[String]) -> bool| -> usize {
        kept.iter().filter(|row| is_like(row)).map(|row| row[2].parse::<usize>().unwrap()).sum()
    };
    assert_eq!(count(|_| true), answered, "{kept:?}");
    let aside = count(|row| row[0] == "set-aside");
    let counted = count(|row| row[0] == "filed" && row[1] == "answer");
    assert_eq!(counted + aside, answered, "{kept:?}");
    let answers = entries_of(clinic, "answered");
    assert_eq!(answers, counted, "an answer counts once");
    aside
}

/// The clinic was told of each mail that was set aside.
fn told_aside(clinic: &Clinic, set_aside: usize) {
    let told = by_id(clinic.mails());
    let told = told.values().filter(|copies| copies[0].subject.starts_with("A mail was set aside"));
    assert_eq!(told.count(), set_aside, "told of mails set aside");
}

/// Each client was enrolled once, sat once and was asked once; nothing is overdue.
fn looks(clinic: &Clinic, clients: &[String]) {
    for client in clients {
        let of = format!("follow_up = (SELECT id FROM follow_up WHERE client_ref = '{client}')");
        for kind in ["enrolled", "sitting", "asked"] {
            let count = clinic
                .number(&format!("SELECT count(*) FROM journal WHERE {of} AND {}", is_of(kind)));
            assert_eq!(count, 1, "{kind} of {client}");
        }
    }
    for never in ["missed", "dropped", "unasked", "suspended", "clock-set-back"] {
        assert_eq!(entries_of(clinic, never), 0, "{never}");
    }
    let overdue = "SELECT count(*) FROM follow_up
                   WHERE next_due_at_utc_ms < extract(epoch FROM now()) * 1000 - 5000";
    assert_eq!(clinic.number(overdue), 0, "something is overdue");
}

fn entries_of(clinic: &Clinic, kind: &str) -> usize {
    clinic.number(&format!("SELECT count(*) FROM journal WHERE {}", is_of(kind)))
}

fn is_of(kind: &str) -> String {
    format!("convert_from(body, 'UTF8')::json ->> 'what' = '{kind}'")
}
