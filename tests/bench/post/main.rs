//! The lines of the table that need real mail servers: the built program beside bare loops of the same
//! libraries, against the same servers, in turns within one run.
//!
//! `tests/bench/run.sh` runs it. Arguments are names of parts (`fast`, `alone`, `drained`, `queued`); none
//! means all, and `queued` brings `alone` with it. `FADEWATCH_BENCH_REPLIES` is how many replies come fast (500),
//! `FADEWATCH_BENCH_QUEUED` how many reminders queue while alerts are sent (10000),
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
use fadewatch::config::{self, ClientFile};
use fadewatch::notice::Languages;
use fadewatch::reply::Lexicons;
use fadewatch::service::enrolling::enroll as enroll_one;
use fadewatch::service::{Clock, Office};
use fadewatch::store::{Mode, Store};
use mail::Person;
use peers::Peers;

/// Enough time to enrol all clients before their look is due.
const ENROLMENT_SECONDS: i64 = 60;
/// Replies that are answered one by one.
const ALONE: usize = 20;
/// Alerts that are sent while reminders queue.
const AMONG_REMINDERS: usize = 20;

fn main() {
    let named: Vec<String> = std::env::args().skip(1).filter(|arg| !arg.starts_with('-')).collect();
    let part = |name: &str| named.is_empty() || named.iter().any(|wanted| wanted == name);
    let setting = |name: &str, value: usize| {
        std::env::var(name).map_or(value, |text| text.parse().expect("a number"))
    };
    let reminders = setting("FADEWATCH_BENCH_QUEUED", 10_000);

    let peers = Peers::start();
    let clinic = Clinic::new(&peers, "box1");
    let is_fast = part("fast");
    let replies = if is_fast { setting("FADEWATCH_BENCH_REPLIES", 500) } else { 0 };
    let clients = replies + ALONE + AMONG_REMINDERS;
    let day = Day { look_at: vec![minute_in(ENROLMENT_SECONDS)], ..Day::default() };
    clinic.write_plan(&day);
    let plan = clinic.folder().join("plans/short.toml");
    let text = std::fs::read_to_string(&plan).unwrap();
    // Alerts that nobody answers here would come again in the middle of a measurement.
    std::fs::write(&plan, text.replace("repeat_alert = \"3min\"", "repeat_alert = \"30min\""))
        .unwrap();
    let contacts: Vec<(String, Person<'_>)> = (0..clients)
        .map(|n| (format!("L{n}"), Person::new(&peers, answered::CONTACTS, &format!("home{n}"))))
        .collect();
    enroll(&clinic, &day, &contacts);
    let mut service = clinic.serve();
    service.hear_all();
    let asked = answered::asked(&peers, &contacts);

    let (fast, others) = asked.split_at(replies);
    let (alone, among) = others.split_at(ALONE);
    if is_fast {
        answered::under_load(&peers, &clinic, fast)
            .iter()
            .for_each(|row| println!("{}", row.line()));
    }
    let median_alone = (part("alone") || part("queued")).then(|| {
        let (row, median) = answered::one_by_one(&peers, &clinic, alone);
        println!("{}", row.line());
        median
    });
    if part("drained") {
        println!("{}", drained::row(&peers, &clinic).line());
    }
    if let Some(alone) = median_alone.filter(|_| part("queued")) {
        println!("{}", answered::among_reminders(&peers, &clinic, among, reminders, alone).line());
    }
    service.terminate();
    service.ended();
}

/// Enrols all clients at once: by a command for each they would be enrolled after their look was due.
fn enroll(clinic: &Clinic<'_>, day: &Day, contacts: &[(String, Person<'_>)]) {
    let file = config::read_clinic(&clinic.folder().join("clinic.toml")).unwrap().value;
    let office = Office::new(file, Languages::shipped(), Lexicons::shipped()).unwrap();
    let now = Clock::Real.now();
    let today = office.calendar.date(now);
    let clients: Vec<ClientFile> = contacts
        .iter()
        .map(|(client, contact)| {
            let path = clinic.write_client(client, day, &[("home", &contact.address)]);
            config::read_client(&path, &office.clinic, today).unwrap().value
        })
        .collect();
    let store = Store::open(&clinic.data(), Mode::Command).unwrap();
    store
        .write_blocking(move |tx| {
            let mut all = clients.iter();
            all.try_for_each(|client| enroll_one(&office, tx, client, "bench", now).map(|_| ()))
        })
        .unwrap();
    store.close();
}
