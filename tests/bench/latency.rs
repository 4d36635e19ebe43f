//! How long it takes from a reply's arrival in the mailbox to the alert's acceptance by the mail
//! server: real servers, the built program, one reply after the other.
//!
//! Run it with `cargo bench --bench latency`; it prints the median and the worst of 50. Most of what
//! it prints is the mail server's own: Dovecot tells a waiting client of a mail half a second after it
//! has come.
//!
//! Never here: what is right; the tests say that.
//! Promises: times are the servers' own: a reply arrives when the mail server has written it into
//! the mailbox, an alert is accepted when the service notes the server's answer.

#![allow(clippy::unwrap_used, reason = "a measurement that cannot go on had better stop")]
// The modules are those of the tests, and only a part of each is of use here.
#![allow(dead_code)]

#[path = "../peers/mod.rs"]
mod peers;

#[path = "../service/clinic.rs"]
mod clinic;
#[path = "../service/mail.rs"]
mod mail;
#[path = "../service/program.rs"]
mod program;
#[path = "../service/submission.rs"]
mod submission;

use std::path::Path;
use std::time::{Duration, Instant};

use clinic::{Clinic, Day, minute_in};
use mail::Person;
use peers::Peers;

/// How many replies.
const REPLIES: usize = 50;
/// Enough time to enrol all clients before their look is due.
const ENROLMENT_SECONDS: i64 = 60;

fn main() {
    let peers = Peers::start();
    let clinic = Clinic::new(&peers, "box1");
    let day = Day { look_at: vec![minute_in(ENROLMENT_SECONDS)], ..Day::default() };
    clinic.write_plan(&day);
    let contacts: Vec<Person<'_>> =
        (1..=REPLIES).map(|n| Person::new(&peers, "alice", &format!("home{n}"))).collect();
    for (n, contact) in contacts.iter().enumerate() {
        clinic.enroll_another(&format!("L{n}"), &day, &[("home", &contact.address)]);
    }
    let mut service = clinic.serve();
    let requests: Vec<_> =
        contacts.iter().map(|contact| contact.await_mail("Skin check (")).collect();

    let mut times: Vec<Duration> = Vec::new();
    for (n, (contact, request)) in contacts.iter().zip(&requests).enumerate() {
        contact.reply(request, "Red mark on the left sit bone, still there after 40 minutes");
        let accepted = alert_accepted(&clinic.data(), n + 1);
        times.push(accepted.saturating_sub(arrived(&peers, &request.reply_to)));
    }
    service.terminate();
    service.ended();
    times.sort();
    println!(
        "from arrival in the mailbox to acceptance of the alert, {REPLIES} replies one by one:\n\
         median {} ms, 9 of 10 within {} ms, worst {} ms",
        times[REPLIES / 2].as_millis(),
        times[REPLIES * 9 / 10].as_millis(),
        times[REPLIES - 1].as_millis(),
    );
}

/// When the server wrote the answer to this address into the mailbox, since 1970.
fn arrived(peers: &Peers, to: &str) -> Duration {
    let mails = ["new", "cur"].map(|part| peers.mails_in("box1", part)).concat();
    let wanted = format!("Delivered-To: {to}\n");
    let (file, _) = mails
        .iter()
        .find(|(_, raw)| String::from_utf8_lossy(raw).contains(&wanted))
        .expect("the answer lies in the mailbox");
    let (seconds, micros) = mail::arrival(file);
    Duration::from_secs(seconds) + Duration::from_micros(micros)
}

/// When the n-th alert was accepted, since 1970.
fn alert_accepted(data: &Path, count: usize) -> Duration {
    let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
    let database = rusqlite::Connection::open_with_flags(data.join("fadewatch.db"), flags).unwrap();
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(60) {
        let accepted: Vec<i64> = database
            .prepare_cached(
                "SELECT ended_at_utc_ms FROM outbox WHERE target = 'alert' AND status = 'sent'
                 ORDER BY id",
            )
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        if let Some(at) = accepted.get(count - 1) {
            return Duration::from_millis(u64::try_from(*at).unwrap());
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("alert {count} was not sent");
}
