//! A service that is killed again and again, anywhere: nothing is lost, nothing counts twice.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use fadewatch::follow_up::Event;
use fadewatch::follow_up::state::Standing;
use fadewatch::store::{MailStatus, PersonRef};
use mail_parser::MessageParser;

use crate::clinic::{Clinic, Day, minute_in};
use crate::mail::{Mail, Person};
use crate::peers::shared;
use crate::program::Running;
use crate::record;

/// At least so many kills for the run to mean something.
const KILLS_MIN: usize = 20;

#[test]
fn a_service_killed_at_any_moment_loses_nothing_and_counts_nothing_twice() {
    let clinic = Clinic::new(shared(), "box4");
    let sitting = minute_in(20);
    let later = sitting + chrono::TimeDelta::minutes(2);
    clinic.enroll(&Day { sittings_at: vec![sitting], look_at: vec![later] });

    let is_over = AtomicBool::new(false);
    let kills = std::thread::scope(|scope| {
        let killer = scope.spawn(|| kill_until(&clinic, &is_over));
        let flow = scope.spawn(|| flow(&clinic));
        let flowed = flow.join();
        is_over.store(true, Ordering::Relaxed);
        let kills = killer.join().unwrap();
        flowed.unwrap();
        kills
    });
    assert!(kills >= KILLS_MIN, "{kills} kills only");

    let mut service = clinic.serve();
    let store_is_calm = || {
        record::read(&clinic.data(), |view| {
            let outbox = view.outbox_counts()?;
            Ok(outbox.queued + outbox.sending + view.received_waiting()?.0 == 0)
        })
    };
    let begun = Instant::now();
    while !store_is_calm() {
        assert!(begun.elapsed() < Duration::from_secs(60), "work is left:\n{}", service.log());
        std::thread::sleep(Duration::from_millis(100));
    }
    service.terminate();
    assert!(service.ended().0.success());
    check(&clinic);
}

/// Kills the service after ever other times and starts it again, until the flow is over. Returns
/// how often.
fn kill_until(clinic: &Clinic<'_>, is_over: &AtomicBool) -> usize {
    let mut service: Running = clinic.start();
    let mut number = 0x2545_F491_4F6C_DD1D_u64;
    let mut kills = 0;
    while !is_over.load(Ordering::Relaxed) {
        // Xorshift (Marsaglia 2003): moments that fall into starting, waiting and working alike.
        number ^= number << 13;
        number ^= number >> 7;
        number ^= number << 17;
        std::thread::sleep(Duration::from_millis(50 + number % 2500));
        service.kill();
        kills += 1;
        std::thread::sleep(Duration::from_millis((number >> 32) % 300));
        service = clinic.start();
    }
    kills
}

/// From a sitting through a clear first look to a lasting mark at a routine look, and on to the
/// clinician's decision.
fn flow(clinic: &Clinic<'_>) {
    let (robin, kim, seating) = (&clinic.robin, &clinic.kim, &clinic.seating);
    robin.await_mail("Sitting starts");
    let first = robin.await_mail("Please look at the skin (");
    say(clinic, (robin, &first, "No marks, skin looks as always"), (robin, "Noted: no marks"));
    let routine = robin.await_mail("Skin check (");
    let lasting = "Dark patch on the tailbone, still there after 40 minutes";
    say(clinic, (robin, &routine, lasting), (kim, "Keep off the seat, please"));
    let alert = seating.await_mail("STOP: a mark has lasted");
    say(clinic, (seating, &alert, "Seen"), (seating, "you have taken up the alert"));
    say(clinic, (seating, &alert, "Resume at step 1"), (robin, "Sitting may begin again"));
}

/// Answers a mail and waits for what must follow. A mail whose working-through was killed twice is
/// set aside, in case it did the killing; the clinic is told, and the words are said once more.
fn say(
    clinic: &Clinic<'_>,
    (who, to, words): (&Person<'_>, &Mail, &str),
    (hearer, expected): (&Person<'_>, &str),
) {
    let begun = Instant::now();
    let mut told = told_aside(clinic).len();
    who.reply(to, words);
    while hearer.mails_with(expected).is_empty() {
        assert!(begun.elapsed() < Duration::from_secs(120), "“{expected}” did not come");
        if told_aside(clinic).len() > told {
            told += 1;
            who.reply(to, words);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// The Message-IDs of the mails with which the clinic was told of a mail set aside.
fn told_aside(clinic: &Clinic<'_>) -> BTreeSet<String> {
    let told = clinic.seating.mails_with("A mail was set aside");
    told.into_iter().map(|mail| mail.id).collect()
}

fn check(clinic: &Clinic<'_>) {
    let data = clinic.data();
    record::check(&data);
    let inbox = record::inbox(&data);
    let filed =
        |note: &str| inbox.iter().filter(|row| **row == ("filed".into(), note.into())).count();
    let killed_twice = told_aside(clinic).len();
    let kinds = (inbox.len(), filed("answer"), filed("decision"));
    assert_eq!(kinds, (4 + killed_twice, 2, 2), "{inbox:?}");

    let count = |is_like: fn(&Event) -> bool| record::count(&data, is_like);
    assert_eq!(count(|event| matches!(event, Event::Answered { .. })), 2);
    assert_eq!(count(|event| matches!(event, Event::Credit { .. })), 1);
    assert_eq!(count(|event| matches!(event, Event::Stopped { .. })), 1);
    assert_eq!(count(|event| matches!(event, Event::Acknowledged { .. })), 1);
    assert_eq!(count(|event| matches!(event, Event::Resumed { .. })), 1);
    assert_eq!(record::state(&data).standing, Standing::Open);
    every_mail_arrived(clinic);
}

/// Whatever the outbox says was sent lies in a mailbox, byte for byte, however often it was sent;
/// nothing lies there that the outbox does not know.
fn every_mail_arrived(clinic: &Clinic<'_>) {
    let mails = record::read(&clinic.data(), |view| {
        let mut mails = Vec::new();
        for mail in view.newest_mails(1000)? {
            mails.push((view.raw_mail(mail.id)?.unwrap(), mail));
        }
        Ok(mails)
    });
    let people: [(&str, &Person<'_>); 3] =
        [("robin", &clinic.robin), ("kim", &clinic.kim), ("seating", &clinic.seating)];
    let mut known = BTreeSet::new();
    for (raw, mail) in &mails {
        let id = MessageParser::default().parse(raw).unwrap().message_id().unwrap().to_owned();
        assert!(known.insert(id.clone()), "two mails have one Message-ID");
        if mail.status == MailStatus::Withdrawn {
            continue;
        }
        assert_eq!(mail.status, MailStatus::Sent, "{mail:?}");
        let who = match &mail.person {
            PersonRef::Contact(id) => id.to_string(),
            PersonRef::Clinician(id) => id.to_string(),
            PersonRef::Clinic => panic!("nobody in particular was written to"),
        };
        let (_, person) = people.iter().find(|(id, _)| *id == who).expect("only these three");
        let copies: Vec<_> = person.mails().into_iter().filter(|copy| copy.id == id).collect();
        assert!(!copies.is_empty(), "a mail that counts as sent did not arrive: {mail:?}");
        let sent = String::from_utf8_lossy(raw).replace('\r', "");
        for copy in copies {
            let copy = String::from_utf8_lossy(&copy.raw).into_owned();
            assert!(copy.ends_with(sent.trim_end_matches('\n')) || copy.contains(sent.trim()));
        }
    }
    for (_, person) in people {
        for mail in person.mails() {
            assert!(known.contains(&mail.id), "a mail came that the outbox does not know");
        }
    }
}
