//! A process that is killed in the middle of writing leaves all or nothing.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use fadewatch::store::{Mode, NewMail, PersonRef, RequestTarget, StoreError, Urgency};

use super::Bench;
use crate::bench::Host as _;
use crate::sample::{self, at};

/// Set for the child process: the data folder that it is to write to until it is killed.
const CHILD: &str = "FADEWATCH_TEST_WRITES_IN";
/// How often a child is killed.
const KILLS: u32 = 12;
/// The name of the test, by which the child runs it too.
const TEST: &str = "a_killed_writer_leaves_whole_transactions_and_everything_it_reported";

#[test]
fn a_killed_writer_leaves_whole_transactions_and_everything_it_reported() {
    if let Ok(told) = std::env::var(CHILD) {
        write_for_ever(&told);
    }
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    bench.store.close();
    let mut reported = 0;
    for kill in 0..KILLS {
        reported = last_report_before_kill(&bench.host.told(), 1 + kill % 5);
        let store = bench.host.open(Mode::Service);
        let (entries, mails) = store
            .read_blocking(|view| {
                view.check_integrity()?;
                assert_eq!(view.verify_journal()?.findings, []);
                assert!(view.is_state_as_journalled(follow_up)?);
                Ok::<_, StoreError>((view.load(follow_up)?.head.entries, view.outbox_counts()?))
            })
            .unwrap();
        let occasions =
            store.read_blocking(|view| view.newest_occasions(Some("due"), u32::MAX)).unwrap();
        assert_eq!(occasions.len() as u64, mails.queued, "an occasion without its mail");
        assert!(entries >= reported, "reported {reported}, found {entries}");
        store.close();
    }
    assert!(reported > u64::from(KILLS));
}

/// Starts the writer, reads some of its reports and kills it; returns the last report.
fn last_report_before_kill(told: &str, reports: u32) -> u64 {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "--nocapture"])
        .arg(format!("{}::{TEST}", module_path!().split_once("::").unwrap().1))
        .env(CHILD, told)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let last = lines
        .map_while(Result::ok)
        .filter_map(|line| line.strip_prefix("committed ")?.parse().ok())
        .take(reports as usize)
        .last();
    child.kill().unwrap();
    child.wait().unwrap();
    last.expect("OK because the writer reports until it is killed")
}

/// Writes entries and a mail in each transaction, and reports how many entries are committed.
fn write_for_ever(told: &str) -> ! {
    let store = super::Host::from_told(told).open(Mode::Service);
    let follow_up = store.read_blocking(|view| view.follow_ups(None, 1)).unwrap()[0].follow_up;
    loop {
        let entries = store
            .write_blocking(move |tx| {
                let next = tx.load(follow_up)?.state.next_due(&fadewatch::follow_up::Basis {
                    plan: &sample::plan(),
                    cover: &sample::cover(),
                });
                let now = next.unwrap_or(at(0));
                sample::clock(tx, follow_up, now)?;
                let entries = tx.load(follow_up)?.head.entries;
                let mail = NewMail {
                    follow_up: Some(follow_up),
                    cause: None,
                    person: PersonRef::Clinic,
                    target: RequestTarget::Other,
                    sender: "clinic@clinic.example".to_owned(),
                    address: "clinic@clinic.example".to_owned(),
                    message_id: format!("<{entries}@clinic.example>"),
                    urgency: Urgency::Routine,
                    raw: vec![b'x'; 20_000],
                };
                tx.put_mail(&mail, now)?;
                Ok::<_, StoreError>(entries)
            })
            .unwrap();
        println!("committed {entries}");
    }
}
