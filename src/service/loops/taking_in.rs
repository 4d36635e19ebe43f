//! The loop that takes mail in from the mailbox.
//!
//! Never here: what a mail says.
//! Promises: a mail is committed before it is confirmed to the mail server.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use tokio::sync::mpsc;

use super::super::pulse::Loop;
use super::super::shared::{Shared, beside_if_long};
use super::super::taking::{self, Arrived, Placed};
use crate::post::inbox::{Arrival, Extent};
use crate::store::MailboxMark;

/// Stores each arriving mail, and only then confirms it to the mail server.
pub(in crate::service) async fn take_in(
    shared: &Shared,
    mut arriving: mpsc::Receiver<Arrival>,
    mailbox: &str,
) {
    while let Some(arrival) = arriving.recv().await {
        let _at_work = shared.pulse.begins(Loop::Taking, std::time::Instant::now());
        let Arrival { raw, extent, received_at, place, taken } = arrival;
        let mark = place
            .checkpoint()
            .map(|at| MailboxMark { uid_validity: at.uid_validity, uid: at.last_uid });
        let received_at = shared.clock.dated(received_at);
        let lay_waiting = !shared.is_awake.load(Ordering::Relaxed);
        let is_whole = extent == Extent::Whole;
        let mail = Arrived { raw, is_whole, received_at, lay_waiting, mark };
        let (office, name, now) =
            (Arc::clone(&shared.office), mailbox.to_owned(), shared.now().await);
        let placed = beside_if_long(mail.raw.len(), move || Placed::new(&name, mail)).await;
        let stored = shared
            .store
            .write(move |tx| taking::take_in(&office, tx, &placed, now).map(|_| ()))
            .await;
        match stored {
            // The receiver may be gone when the service stops: the mail is met again then, and
            // known again.
            Ok(()) => drop(taken.send(())),
            Err(failed) => shared.failed("storing a mail", &failed).await,
        }
        shared.taken.notify_one();
        shared.to_act.notify_one();
    }
}
