//! The lines of the table that need real mail servers: the built program beside bare loops of the same
//! libraries, against the same servers, in turns within one run.
//!
//! `tests/bench/run.sh` runs it. `FADEWATCH_BENCH_REPLIES` is how many replies are answered one by
//! one (60), `FADEWATCH_BENCH_QUEUED` how many reminders queue while alerts are sent (10000),
//! `FADEWATCH_BENCH_RUNS` how often the outbox is drained (3).
//!
//! Never here: what is right; the tests say that.
//! Promises: a reply arrives when the mail server has written it into the mailbox; a mail is accepted
//! when whoever sends it has noted the server's answer.

#![allow(clippy::unwrap_used, reason = "a measurement that cannot go on had better stop")]
#![allow(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
// The modules are those of the tests, and only a part of each is of use here.
#![allow(dead_code)]

#[path = "../../peers/mod.rs"]
mod peers;

#[path = "../../service/clinic.rs"]
mod clinic;
#[path = "../../service/mail.rs"]
mod mail;
#[path = "../../service/program.rs"]
mod program;
#[path = "../table/row.rs"]
mod row;
#[path = "../../service/submission.rs"]
mod submission;

mod answered;
mod bare;
mod drained;
mod outbox;

use clinic::{Clinic, Day, minute_in};
use mail::Person;
use peers::Peers;

/// Enough time to enrol all clients before their look is due.
const ENROLMENT_SECONDS: i64 = 60;
/// Alerts that are sent while reminders queue.
const AMONG_REMINDERS: usize = 20;

fn main() {
    let setting = |name: &str, value: usize| {
        std::env::var(name).map_or(value, |text| text.parse().expect("a number"))
    };
    let replies = setting("FADEWATCH_BENCH_REPLIES", 60);
    let reminders = setting("FADEWATCH_BENCH_QUEUED", 10_000);

    let peers = Peers::start();
    let clinic = Clinic::new(&peers, "box1");
    let day = Day { look_at: vec![minute_in(ENROLMENT_SECONDS)], ..Day::default() };
    clinic.write_plan(&day);
    let plan = clinic.folder().join("plans/short.toml");
    let text = std::fs::read_to_string(&plan).unwrap();
    // Alerts that nobody answers here would come again in the middle of a measurement.
    std::fs::write(&plan, text.replace("repeat_alert = \"3min\"", "repeat_alert = \"30min\""))
        .unwrap();
    let contacts: Vec<Person<'_>> = (0..replies + AMONG_REMINDERS)
        .map(|n| Person::new(&peers, "alice", &format!("home{n}")))
        .collect();
    for (n, contact) in contacts.iter().enumerate() {
        clinic.enroll_another(&format!("L{n}"), &day, &[("home", &contact.address)]);
    }
    let mut service = clinic.serve();
    service.hear_all();
    let asked: Vec<answered::Asked<'_>> = contacts
        .iter()
        .enumerate()
        .map(|(n, contact)| answered::Asked {
            client: format!("L{n}"),
            contact,
            request: contact.await_mail("Skin check ("),
        })
        .collect();

    let (alone, among) = asked.split_at(replies);
    let (rows, alone) = answered::one_by_one(&peers, &clinic, alone);
    rows.iter().for_each(|row| println!("{}", row.line()));
    println!("{}", drained::row(&peers, &clinic).line());
    println!("{}", answered::among_reminders(&peers, &clinic, among, reminders, alone).line());
    service.terminate();
    service.ended();
}
