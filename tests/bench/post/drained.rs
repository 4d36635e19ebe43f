//! Mails a second out of the outbox, beside the bare library with as many connections.
//!
//! Never here: the library itself (`bare`).
//! Promises: the same bytes to the same server over TLS, in turns.

use std::time::Duration;

use crate::bare;
use crate::clinic::Clinic;
use crate::outbox;
use crate::peers::Peers;
use crate::row::{Aim, Row, median, runs};

/// Mails of one turn.
const MAILS: usize = 500;
/// As many as the service has by itself.
const CONNECTIONS: usize = 4;

pub fn row(peers: &Peers, clinic: &Clinic<'_>) -> Row {
    let address = peers.address("carla");
    let (_, raw) = outbox::sample(&clinic.data(), "look");
    let (mut ours, mut beside) = (Vec::new(), Vec::new());
    for run in 0..runs() {
        let name = format!("drained{run}");
        outbox::put(&clinic.data(), &address, &name, MAILS);
        let sent = loop {
            let sent = outbox::sent(&clinic.data(), &name);
            if sent.count == MAILS {
                break sent;
            }
            std::thread::sleep(Duration::from_millis(20));
        };
        ours.push((MAILS - 1) as f64 / sent.seconds);
        beside.push(bare::sent_per_second(peers, &address, raw.as_bytes(), MAILS, CONNECTIONS));
    }
    let (ours, beside) = (median(ours), median(beside));
    Row {
        measure: "outbox drained over TLS, mails a second".to_owned(),
        ours: format!("{ours:.0}/s"),
        beside: format!("{beside:.0}/s: bare library, {CONNECTIONS} connections too"),
        ratio: Some(ours / beside),
        aim: Aim::AtLeast(0.9),
        note: format!("{MAILS} requests a turn; each is claimed and noted durably"),
    }
}
