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
use crate::store::{ClaimedMail, Store, StoreError};

/// Mails that are being sent at once; the transport limits its connections on its own.
const SENDING_MAX: usize = 8;

/// Sends what waits in the outbox, the most urgent first, a few at a time.
pub(in crate::service) async fn send_out(
    shared: &Arc<Shared>,
    outlet: &Outlet,
    mut stops: watch::Receiver<bool>,
) {
    let mut under_way = JoinSet::new();
    loop {
        let next_try = if *stops.borrow() {
            None
        } else {
            match start_sending(shared, outlet, &mut under_way).await {
                Ok(next_try) => next_try,
                Err(failed) => {
                    shared.failed("sending mail", &failed).await;
                    continue;
                }
            }
        };
        if *stops.borrow() && under_way.is_empty() {
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
            Some(_) = under_way.join_next() => {}
            _ = stops.changed() => {}
        }
    }
}

/// Claims mail for the free places and starts sending it. Returns when the next is to be tried.
async fn start_sending(
    shared: &Arc<Shared>,
    outlet: &Outlet,
    under_way: &mut JoinSet<()>,
) -> Result<Option<Instant>, ServiceError> {
    let _at_work = shared.pulse.begins(Loop::Sending, std::time::Instant::now());
    while under_way.try_join_next().is_some() {}
    let room = SENDING_MAX.saturating_sub(under_way.len());
    let now = shared.now().await;
    let (is_ahead, next_try) = shared
        .store
        .read(move |view| {
            Ok::<_, StoreError>((sending::is_mail_ahead(view, now)?, view.next_try()?))
        })
        .await?;
    if is_ahead {
        let hastened = shared.store.write(move |tx| sending::hasten(tx, now)).await?;
        warn!(hastened, "the clock was set back; waiting mail goes out now");
    }
    let waits = is_ahead || next_try.is_some_and(|at| at <= now);
    if room == 0 || !waits {
        return Ok(next_try);
    }
    let limit = u32::try_from(room).unwrap_or(1);
    let (claimed, next_try) = shared
        .store
        .write(move |tx| Ok::<_, StoreError>((tx.claim_mail(now, limit)?, tx.next_try()?)))
        .await?;
    for mail in claimed {
        let (shared, outlet) = (Arc::clone(shared), outlet.clone());
        under_way.spawn(async move { send_one(&shared, &outlet, mail).await });
    }
    Ok(next_try)
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

async fn send_one(shared: &Shared, outlet: &Outlet, mail: ClaimedMail) {
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
    shared.to_act.notify_one();
    shared.committed();
}
