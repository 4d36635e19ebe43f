//! From a reply's arrival in the mailbox to the alert's acceptance by the mail server.
//!
//! Never here: the servers, the bare loop.
//! Promises: the service and the bare loop get the same replies at the same pace, one after the other
//! or fast, and never both at once.

use std::collections::HashMap;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
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
/// The mailbox of all contacts.
pub const CONTACTS: &str = "alice";

/// Replies a second where they come fast, and how many people send them.
const A_SECOND: f64 = 50.0;
const SENDERS: usize = 8;

const PATIENCE: Duration = Duration::from_secs(60);
/// The longest wait until all were asked, once the service runs.
const ASKING: Duration = Duration::from_secs(600);

/// A contact who has been asked.
pub struct Asked<'p> {
    pub client: String,
    pub contact: &'p Person<'p>,
    pub request: Mail,
}

/// Waits until every contact has been asked; `contacts` with the client of each.
pub fn asked<'p>(peers: &Peers, contacts: &'p [(String, Person<'p>)]) -> Vec<Asked<'p>> {
    let until = Instant::now() + ASKING;
    loop {
        let mut requests = requests(peers);
        if contacts.iter().all(|(_, contact)| requests.contains_key(&contact.address)) {
            let asked = contacts.iter().map(|(client, contact)| Asked {
                client: client.clone(),
                contact,
                request: requests.remove(&contact.address).unwrap(),
            });
            return asked.collect();
        }
        assert!(Instant::now() < until, "only {} contacts were asked", requests.len());
        std::thread::sleep(Duration::from_secs(1));
    }
}

/// The requests in the mailbox of all contacts, by recipient. Read once for all: there are many.
fn requests(peers: &Peers) -> HashMap<String, Mail> {
    let mails = ["new", "cur"].map(|part| peers.mails_in(CONTACTS, part)).concat();
    let found = mails.into_iter().filter_map(|(file, raw)| {
        let to = delivered_to(&raw)?;
        let mail = Mail::read(file, raw);
        mail.subject.contains("Skin check (").then_some((to, mail))
    });
    found.collect()
}

/// The line for the median, and our median.
pub fn one_by_one(peers: &Peers, clinic: &Clinic<'_>, asked: &[Asked<'_>]) -> (Row, Duration) {
    let mut bare = bare::Loop::start(peers, BARE);
    let (mut ours, mut beside) = (Vec::new(), Vec::new());
    for (n, asked) in asked.iter().enumerate() {
        let raw = asked.contact.reply(&asked.request, WORDS);
        ours.push(
            accepted(&clinic.data(), &asked.client) - arrived(peers, OURS, &asked.request.reply_to),
        );
        let to = peers.address(&format!("{BARE}+{n}"));
        submission::send(peers, &asked.contact.address, &to, &raw);
        beside.push(bare.accepted().1 - arrived(peers, BARE, &to));
    }
    let (ours, beside) = (crate::row::median(ours), crate::row::median(beside));
    let row = Row {
        measure: format!("the same for one reply alone, median of {}", asked.len()),
        ours: format!("{:.0} ms", ms(ours)),
        beside: format!("{:.0} ms: bare loop", ms(beside)),
        ratio: Some(ours.as_secs_f64() / beside.as_secs_f64()),
        aim: Aim::AtMost(1.25),
        note: "one by one, in turns; both wait for the IMAP server to tell them".to_owned(),
    };
    (row, ours)
}

/// The lines for the median and the worst of replies that come fast, first to the service, then to the
/// bare loop.
pub fn under_load(peers: &Peers, clinic: &Clinic<'_>, asked: &[Asked<'_>]) -> Vec<Row> {
    let pace = hand_over(asked.len(), |n| {
        asked[n].contact.reply(&asked[n].request, WORDS);
    });
    let accepted: HashMap<String, Duration> = asked
        .iter()
        .map(|asked| (asked.request.reply_to.clone(), accepted(&clinic.data(), &asked.client)))
        .collect();
    let ours = since_arrival(peers, OURS, &accepted);

    let mut bare = bare::Loop::start(peers, BARE);
    let bare_pace = hand_over(asked.len(), |n| {
        let Asked { contact, request, .. } = &asked[n];
        let to = peers.address(&format!("{BARE}+load{n}"));
        submission::send(peers, &contact.address, &to, &contact.draft_reply(request, WORDS));
    });
    let accepted = (0..asked.len()).map(|_| bare.accepted()).collect();
    let beside = since_arrival(peers, BARE, &accepted);

    let row = |measure: &str, at: usize, most: f64, note: String| Row {
        measure: format!("reply in the mailbox to alert accepted, {measure} of {}", asked.len()),
        ours: format!("{:.0} ms", ms(ours[at])),
        beside: format!("{:.0} ms: bare loop of the same libraries", ms(beside[at])),
        ratio: Some(ours[at].as_secs_f64() / beside[at].as_secs_f64()),
        aim: Aim::AtMost(most),
        note,
    };
    let note = format!("came at {pace:.0} a second, to the bare loop at {bare_pace:.0}");
    let (median, worst) = (asked.len() / 2, asked.len() - 1);
    vec![row("median", median, 1.25, note), row("worst", worst, 2.0, String::new())]
}

/// Sends so many mails at the pace of the load. Returns at how many a second they went.
fn hand_over(count: usize, send: impl Fn(usize) + Sync) -> f64 {
    let (next, begun) = (AtomicUsize::new(0), Instant::now());
    std::thread::scope(|scope| {
        for _ in 0..SENDERS {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    if n >= count {
                        return;
                    }
                    let at = Duration::from_secs_f64(n as f64 / A_SECOND);
                    std::thread::sleep(at.saturating_sub(begun.elapsed()));
                    send(n);
                }
            });
        }
    });
    count as f64 / begun.elapsed().as_secs_f64()
}

/// From the arrival of each mail until what answers it was accepted, the shortest first.
fn since_arrival(
    peers: &Peers,
    mailbox: &str,
    accepted: &HashMap<String, Duration>,
) -> Vec<Duration> {
    let arrivals = || -> HashMap<String, Duration> {
        let mails = ["new", "cur"].map(|part| peers.mails_in(mailbox, part)).concat();
        let found = mails.iter();
        found.filter_map(|(file, raw)| Some((delivered_to(raw)?, arrival_in_name(file)))).collect()
    };
    let begun = Instant::now();
    let mut arrivals_found = arrivals();
    // The mail server may have moved one between the two folders just now.
    while !accepted.keys().all(|to| arrivals_found.contains_key(to)) && begun.elapsed() < PATIENCE {
        arrivals_found = arrivals();
    }
    let mut took: Vec<Duration> =
        accepted.iter().map(|(to, at)| *at - arrivals_found[to]).collect();
    took.sort();
    took
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
            return arrival_in_name(file);
        }
        // The mail server may have moved it between the two folders just now.
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("the answer to {to} does not lie in the mailbox");
}

/// When a file was written, as its name says, since 1970.
fn arrival_in_name(file: &str) -> Duration {
    let (seconds, micros) = mail::arrival(file);
    Duration::from_secs(seconds) + Duration::from_micros(micros)
}

/// Whom the mail server wrote a mail into its mailbox for.
pub fn delivered_to(raw: &[u8]) -> Option<String> {
    let head = String::from_utf8_lossy(raw);
    let line = head.lines().find_map(|line| line.strip_prefix("Delivered-To: "))?;
    Some(line.trim().to_owned())
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
