//! The loop that takes mail in from the mailbox.
//!
//! Never here: what a mail says.
//! Promises: a mail is committed before it is confirmed to the mail server; what comes together is
//! committed together, and after one that cannot be stored none of the later ones is.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use tokio::sync::mpsc;

use super::super::error::ServiceError;
use super::super::pulse::Loop;
use super::super::shared::{Shared, beside_if_long};
use super::super::taking::{self, Arrived, Placed};
use crate::follow_up::Instant;
use crate::post::inbox::{Arrival, Extent};
use crate::store::{MailboxMark, Tx};

/// Stores arriving mail, and only then confirms it to the mail server.
pub(in crate::service) async fn take_in(
    shared: &Shared,
    mut arriving: mpsc::Receiver<Vec<Arrival>>,
    mailbox: &str,
) {
    while let Some(burst) = arriving.recv().await {
        let _at_work = shared.pulse.begins(Loop::Taking, std::time::Instant::now());
        let now = shared.now().await;
        let (mut placed, mut confirmations) = (Vec::new(), Vec::new());
        for Arrival { raw, extent, received_at, place, taken } in burst {
            let mark = place
                .checkpoint()
                .map(|at| MailboxMark { uid_validity: at.uid_validity, uid: at.last_uid });
            let received_at = shared.clock.dated(received_at);
            let lay_waiting = !shared.is_awake.load(Ordering::Relaxed);
            let is_whole = extent == Extent::Whole;
            let mail = Arrived { raw, is_whole, received_at, lay_waiting, mark };
            let (name, bytes) = (mailbox.to_owned(), mail.raw.len());
            let mail = beside_if_long(bytes, move || Placed::new(&name, mail)).await;
            placed.push(Arc::new(mail));
            confirmations.push(taken);
        }
        // All with one wait for the disk. Where that fails, one by one for as far as it goes.
        let together = placed.len() > 1 && store(shared, placed.clone(), now).await.is_ok();
        for (mail, taken) in placed.into_iter().zip(confirmations) {
            if !together && let Err(failed) = store(shared, vec![mail], now).await {
                shared.failed("storing a mail", &failed).await;
                break;
            }
            // The receiver may be gone when the service stops: the mail is met again then, and
            // known again.
            let _ = taken.send(());
        }
        shared.taken.notify_one();
        shared.to_act.notify_one();
    }
}

/// Stores mails in one transaction.
async fn store(shared: &Shared, mails: Vec<Arc<Placed>>, now: Instant) -> Result<(), ServiceError> {
    let office = Arc::clone(&shared.office);
    let work = move |tx: &mut Tx<'_>| {
        mails.iter().try_for_each(|mail| taking::take_in(&office, tx, mail, now).map(|_| ()))
    };
    shared.store.write(work).await
}
