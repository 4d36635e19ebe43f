//! The loop that sends what waits in the outbox.
//!
//! Never here: how long a mail waits for its next try.
//! Promises: the most urgent goes first; how a mail went is noted before its place is free again; a mail
//! is handed over only by a service that still leads at that moment.

use std::sync::Arc;

use tokio::sync::watch;
use tokio::task::JoinSet;
use tracing::warn;

use super::super::error::ServiceError;
use super::super::pulse::Loop;
use super::super::sending;
use super::super::shared::Shared;
use crate::follow_up::Instant;
use crate::post::{Address, Leave, Outcome, Outlet, Trouble};
use crate::store::{ClaimedMail, OutboxId, Store, Tx};

/// Mails that are being sent at once; the transport limits its connections on its own.
const SENDING_MAX: usize = 8;

/// Sends what waits in the outbox, the most urgent first, a few at a time.
pub(in crate::service) async fn send_out(
    shared: &Arc<Shared>,
    outlet: &Outlet,
    mut stops: watch::Receiver<bool>,
) {
    let mut under_way = JoinSet::new();
    let mut accepted: Vec<OutboxId> = Vec::new();
    loop {
        while let Some(ended) = under_way.try_join_next() {
            accepted.extend(ended.ok().flatten());
        }
        let is_stopping = *stops.borrow();
        let room = if is_stopping { 0 } else { SENDING_MAX.saturating_sub(under_way.len()) };
        let Turn { claimed, next_try } = match note_and_claim(shared, &accepted, room).await {
            Ok(turn) => turn,
            Err(failed) => {
                shared.failed("sending mail", &failed).await;
                continue;
            }
        };
        accepted.clear();
        for mail in claimed {
            let (shared, outlet) = (Arc::clone(shared), outlet.clone());
            under_way.spawn(async move { send_one(&shared, &outlet, mail).await });
        }
        if is_stopping && under_way.is_empty() {
            return;
        }
        // With all places taken, the next ending is waited for instead.
        let has_room = under_way.len() < SENDING_MAX;
        let until_next = async {
            match next_try.filter(|_| has_room) {
                Some(at) => shared.clock.sleep_until(at).await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            () = until_next => {}
            () = shared.to_send.notified() => {}
            Some(ended) = under_way.join_next() => accepted.extend(ended.ok().flatten()),
            _ = stops.changed() => {}
        }
    }
}

/// What a turn of the loop has to send.
struct Turn {
    claimed: Vec<ClaimedMail>,
    /// When the next is to be tried, where there is room for it.
    next_try: Option<Instant>,
}

/// Notes what servers have accepted and claims mail for the free places, in one transaction: each one
/// waits for the disk, and while much is sent there is always both to do.
async fn note_and_claim(
    shared: &Shared,
    accepted: &[OutboxId],
    room: usize,
) -> Result<Turn, ServiceError> {
    if accepted.is_empty() && room == 0 {
        return Ok(Turn { claimed: Vec::new(), next_try: None });
    }
    let _at_work = shared.pulse.begins(Loop::Sending, std::time::Instant::now());
    let now = shared.now().await;
    let (ended, limit) = (accepted.to_vec(), u32::try_from(room).unwrap_or(0));
    let write = move |tx: &mut Tx<'_>| {
        for mail in ended {
            tx.mark_sent(mail, now)?;
        }
        if limit == 0 {
            return Ok((0, Turn { claimed: Vec::new(), next_try: None }));
        }
        let hastened = if sending::is_mail_ahead(tx, now)? { sending::hasten(tx, now)? } else { 0 };
        let claimed = tx.claim_mail(now, limit)?;
        let next_try = tx.next_try()?;
        Ok::<_, ServiceError>((hastened, Turn { claimed, next_try }))
    };
    let (hastened, turn) = shared.store.write(write).await?;
    if hastened > 0 {
        warn!(hastened, "the clock was set back; waiting mail goes out now");
    }
    if !accepted.is_empty() {
        shared.pulse.advances(Loop::Sending, std::time::Instant::now());
        shared.tell_committed();
    }
    Ok(turn)
}

/// Given for as long as this service leads: whoever was paused or cut off with a mail in hand leaves it to
/// its successor, who has it from the outbox.
fn leave(store: &Store) -> Leave {
    let store = store.clone();
    Leave::asked(move || {
        let store = store.clone();
        Box::pin(async move { store.still_leads().await })
    })
}

/// Sends a mail. Returns it where a server has accepted it, which is still to be noted; whatever else
/// became of it is noted here, in a transaction of its own.
async fn send_one(shared: &Shared, outlet: &Outlet, mail: ClaimedMail) -> Option<OutboxId> {
    let addresses = (Address::parse(&mail.mail.sender), Address::parse(&mail.mail.address));
    let outcome = match addresses {
        (Ok(sender), Ok(recipient)) => {
            let leave = leave(&shared.store);
            outlet.send_with_leave(&sender, &recipient, &mail.mail.raw, &leave).await
        }
        _ => Outcome::Unreachable {
            trouble: Trouble::Protocol,
            why: "an address in the outbox cannot be read".to_owned(),
        },
    };
    shared.way_out.learn(&outcome);
    if let Outcome::Refused(refusal) = &outcome {
        warn!(outbox = mail.id.number(), code = refusal.code, "a mail was refused");
    }
    if let Outcome::Unreachable { trouble, .. } = &outcome {
        warn!(outbox = mail.id.number(), %trouble, "a mail could not be handed over");
    }
    if matches!(outcome, Outcome::Accepted { .. }) {
        return Some(mail.id);
    }
    let mail = Arc::new(mail);
    loop {
        let (now, noted, outcome) = (shared.now().await, Arc::clone(&mail), outcome.clone());
        let settled = shared
            .act(move |office, tx| sending::settle_mail(office, tx, &noted, &outcome, now))
            .await;
        match settled {
            Ok(()) => {
                shared.pulse.advances(Loop::Sending, std::time::Instant::now());
                break;
            }
            // Until it is noted the mail counts as being sent; a restart would send it again.
            Err(failed) => shared.failed("noting how a mail went", &failed).await,
        }
    }
    // Somebody may be out of reach by it, which leads to more.
    shared.to_act.notify_one();
    shared.committed();
    None
}
