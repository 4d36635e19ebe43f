//! From a reply's arrival in the mailbox to the alert's acceptance by the mail server.
//!
//! Never here: the servers, the bare loop.
//! Promises: one reply after the other; the service and the bare loop take turns.

use std::path::Path;
use std::time::{Duration, Instant};

use crate::bare;
use crate::clinic::Clinic;
use crate::mail::{self, Mail, Person};
use crate::outbox;
use crate::peers::Peers;
use crate::row::{Aim, Row, ms};
use crate::submission;

const WORDS: &str = "Red mark on the left sit bone, still there after 40 minutes";
/// The mailboxes of the service and of the bare loop.
const OURS: &str = "box1";
const BARE: &str = "box2";

const PATIENCE: Duration = Duration::from_secs(60);

/// A contact who has been asked.
pub struct Asked<'p> {
    pub client: String,
    pub contact: &'p Person<'p>,
    pub request: Mail,
}

/// The lines for the median and the worst, and our median.
pub fn one_by_one(peers: &Peers, clinic: &Clinic<'_>, asked: &[Asked<'_>]) -> (Vec<Row>, Duration) {
    let mut bare = bare::Loop::start(peers, BARE);
    let (mut ours, mut beside) = (Vec::new(), Vec::new());
    for (n, asked) in asked.iter().enumerate() {
        let raw = asked.contact.reply(&asked.request, WORDS);
        ours.push(
            accepted(&clinic.data(), &asked.client) - arrived(peers, OURS, &asked.request.reply_to),
        );
        let to = peers.address(&format!("{BARE}+{n}"));
        submission::send(peers, &asked.contact.address, &to, &raw);
        beside.push(bare.accepted() - arrived(peers, BARE, &to));
    }
    ours.sort();
    beside.sort();
    let row = |measure: &str, at: usize, most: f64, note: &str| Row {
        measure: format!("reply in the mailbox to alert accepted, {measure} of {}", asked.len()),
        ours: format!("{:.0} ms", ms(ours[at])),
        beside: format!("{:.0} ms: bare loop of the same libraries", ms(beside[at])),
        ratio: Some(ours[at].as_secs_f64() / beside[at].as_secs_f64()),
        aim: Aim::AtMost(most),
        note: note.to_owned(),
    };
    let note = "one by one, in turns; both wait for the IMAP server to tell them";
    let (median, worst) = (asked.len() / 2, asked.len() - 1);
    (vec![row("median", median, 1.25, note), row("worst", worst, 2.0, "")], ours[median])
}

/// The line for alerts while reminders wait in the outbox.
pub fn among_reminders(
    peers: &Peers,
    clinic: &Clinic<'_>,
    asked: &[Asked<'_>],
    reminders: usize,
    alone: Duration,
) -> Row {
    outbox::put(&clinic.data(), &peers.address("carla"), "among", reminders);
    let mut times = Vec::new();
    for asked in asked {
        asked.contact.reply(&asked.request, WORDS);
        times.push(
            accepted(&clinic.data(), &asked.client) - arrived(peers, OURS, &asked.request.reply_to),
        );
    }
    let left = reminders - outbox::sent(&clinic.data(), "among").count;
    let median = crate::row::median(times);
    Row {
        measure: format!("alert while {reminders} reminders queue"),
        ours: format!("{:.0} ms", ms(median)),
        beside: format!("{:.0} ms: alone", ms(alone)),
        ratio: Some(median.as_secs_f64() / alone.as_secs_f64()),
        aim: Aim::AtMost(1.2),
        note: format!("median of {}; {left} reminders still waited after the last", asked.len()),
    }
}

/// When the server wrote the answer to this address into the mailbox, since 1970.
fn arrived(peers: &Peers, mailbox: &str, to: &str) -> Duration {
    let wanted = format!("Delivered-To: {to}\n");
    let begun = Instant::now();
    while begun.elapsed() < PATIENCE {
        let mails = ["new", "cur"].map(|part| peers.mails_in(mailbox, part)).concat();
        let found = mails.iter().find(|(_, raw)| String::from_utf8_lossy(raw).contains(&wanted));
        if let Some((file, _)) = found {
            let (seconds, micros) = mail::arrival(file);
            return Duration::from_secs(seconds) + Duration::from_micros(micros);
        }
        // The mail server may have moved it between the two folders just now.
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("the answer to {to} does not lie in the mailbox");
}

/// When the first alert about a client was accepted, since 1970.
fn accepted(data: &Path, client: &str) -> Duration {
    let database = outbox::read(data);
    let begun = Instant::now();
    while begun.elapsed() < PATIENCE {
        let at: Option<i64> = database
            .query_row(
                "SELECT min(ended_at_utc_ms) FROM outbox WHERE target = 'alert' AND status = 'sent'
                 AND follow_up = (SELECT id FROM follow_up WHERE client_ref = ?1)",
                [client],
                |row| row.get(0),
            )
            .unwrap();
        if let Some(at) = at {
            return Duration::from_millis(u64::try_from(at).unwrap());
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("the alert about {client} was not sent");
}
