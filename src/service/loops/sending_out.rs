//! The loop that sends what waits in the outbox.
//!
//! Never here: how long a mail waits for its next try.
//! Promises: the most urgent goes first; what a server has accepted is noted within moments, and no more
//! than a dozen mails are ever in hand without that; a mail is handed over only by a service that still
//! leads at that moment.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

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
/// Mails that are claimed beside those, so that a place that comes free is taken while the disk is
/// waited for. Few, since what is more urgent is claimed behind them; it goes before them all the same.
const READY_MAX: usize = 4;
/// How long endings are gathered, to be noted together, while more than half of the places are taken.
const GATHERED_WITHIN: Duration = Duration::from_millis(5);

/// Sends what waits in the outbox, the most urgent first, a few at a time.
pub(in crate::service) async fn send_out(
    shared: &Arc<Shared>,
    outlet: &Outlet,
    mut stops: watch::Receiver<bool>,
) {
    let mut in_hand = InHand::new(shared, outlet);
    loop {
        in_hand.gather().await;
        let is_stopping = *stops.borrow();
        let room = if is_stopping { 0 } else { in_hand.room() };
        let Turn { claimed, next_try } = match note_and_claim(shared, &in_hand.accepted, room).await
        {
            Ok(turn) => turn,
            Err(failed) => {
                shared.failed("sending mail", &failed).await;
                continue;
            }
        };
        in_hand.accepted.clear();
        in_hand.take(claimed);
        if is_stopping && in_hand.is_empty() {
            return;
        }
        // With all places taken, the next ending is waited for instead.
        let has_room = in_hand.room() > 0;
        let until_next = async {
            match next_try.filter(|_| has_room) {
                Some(at) => shared.clock.sleep_until(at).await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            () = until_next => {}
            () = shared.to_send.notified() => {}
            () = in_hand.one_ends() => {}
            _ = stops.changed() => {}
        }
    }
}

/// Mails that were claimed and are not settled yet.
struct InHand<'a> {
    shared: &'a Arc<Shared>,
    outlet: &'a Outlet,
    /// Claimed and not begun, the most urgent first.
    ready: VecDeque<ClaimedMail>,
    /// Being sent.
    under_way: JoinSet<Option<OutboxId>>,
    /// Taken by a server, which is still to be noted.
    accepted: Vec<OutboxId>,
}

impl<'a> InHand<'a> {
    fn new(shared: &'a Arc<Shared>, outlet: &'a Outlet) -> Self {
        let (ready, under_way, accepted) = (VecDeque::new(), JoinSet::new(), Vec::new());
        Self { shared, outlet, ready, under_way, accepted }
    }

    fn is_empty(&self) -> bool {
        self.ready.is_empty() && self.under_way.is_empty()
    }

    /// How many more may be claimed.
    fn room(&self) -> usize {
        (SENDING_MAX + READY_MAX).saturating_sub(self.ready.len() + self.under_way.len())
    }

    /// Takes claimed mail up.
    fn take(&mut self, claimed: Vec<ClaimedMail>) {
        self.ready.extend(claimed);
        // Stable: of two as urgent, the one that was claimed first.
        self.ready.make_contiguous().sort_by_key(|mail| mail.mail.urgency);
        self.begin();
    }

    /// Begins what stands ready, where places are free.
    fn begin(&mut self) {
        while self.under_way.len() < SENDING_MAX
            && let Some(mail) = self.ready.pop_front()
        {
            let (shared, outlet) = (Arc::clone(self.shared), self.outlet.clone());
            self.under_way.spawn(async move { send_one(&shared, &outlet, mail).await });
        }
    }

    /// Waits until the sending of one has ended, however it went; for ever where none is being sent.
    /// Nothing is lost where this is dropped.
    async fn one_ends(&mut self) {
        match self.under_way.join_next().await {
            Some(ended) => {
                self.accepted.extend(ended.ok().flatten());
                self.begin();
            }
            None => std::future::pending().await,
        }
    }

    /// After an ending, waits a moment for others while enough is being sent: noting them together
    /// waits for the disk once.
    async fn gather(&mut self) {
        let until = tokio::time::Instant::now() + GATHERED_WITHIN;
        while !self.accepted.is_empty()
            && self.accepted.len() < READY_MAX
            && self.under_way.len() > SENDING_MAX / 2
        {
            if tokio::time::timeout_at(until, self.one_ends()).await.is_err() {
                return;
            }
        }
        while let Some(ended) = self.under_way.try_join_next() {
            self.accepted.extend(ended.ok().flatten());
        }
        self.begin();
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
