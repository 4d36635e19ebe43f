//! Composes the mail of many acts on a thread beside the writer, which goes on with the next act.
//!
//! Never here: what a mail says and where it belongs (`mailing`), SQL.
//! Promises: within one transaction; once `finish` has returned, every mail that was ordered lies whole
//! in the outbox; a mail that cannot be composed fails the transaction, as it does without a scribe.

use std::cell::Cell;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::Scope;

use super::error::ServiceError;
use super::mailing::Sheet;
use crate::store::{OutboxId, Tx};

/// Fewer acts than this are not worth a thread.
const WORTH_IT_FROM: usize = 16;

type Composed = (OutboxId, Result<Vec<u8>, ServiceError>);

/// Who composes mail beside the writer.
#[derive(Debug)]
pub struct Scribe {
    orders: Sender<(OutboxId, Sheet)>,
    /// The orders that nobody has begun with.
    waiting: Waiting,
    composed: Receiver<Composed>,
    /// Mails that are ordered and not in the outbox yet.
    owed: Cell<usize>,
}

/// Orders, taken by whoever has time.
type Waiting = Arc<Mutex<Receiver<(OutboxId, Sheet)>>>;

impl Scribe {
    /// Sets a scribe to work, where there are acts enough.
    pub(super) fn for_acts<'scope>(acts: usize, scope: &'scope Scope<'scope, '_>) -> Option<Self> {
        if acts < WORTH_IT_FROM {
            return None;
        }
        let (orders, waiting) = channel();
        let waiting = Arc::new(Mutex::new(waiting));
        let (done, composed) = channel();
        let ordered = Arc::clone(&waiting);
        scope.spawn(move || {
            while let Some((outbox, sheet)) = next(&ordered) {
                // Whoever ordered may have given up: then nobody wants the rest either.
                if done.send((outbox, sheet.composed())).is_err() {
                    return;
                }
            }
        });
        Some(Self { orders, waiting, composed, owed: Cell::new(0) })
    }

    /// Orders the bytes of a mail that has its row in the outbox.
    pub(super) fn order(&self, outbox: OutboxId, sheet: Sheet) {
        self.orders.send((outbox, sheet)).expect("OK because the orders are kept here");
        self.owed.set(self.owed.get() + 1);
    }

    /// Puts into the outbox what is composed by now.
    pub(super) fn hand_in(&self, tx: &mut Tx<'_>) -> Result<(), ServiceError> {
        self.composed.try_iter().try_for_each(|composed| self.put(tx, composed))
    }

    /// Puts into the outbox what is not there yet. The writer, who has nothing else to do by now,
    /// composes too.
    pub(super) fn finish(self, tx: &mut Tx<'_>) -> Result<(), ServiceError> {
        let Self { orders, waiting, composed, owed } = self;
        // There are no more orders: whoever waits for one goes.
        drop(orders);
        let mut owed = owed.get();
        while let Some((outbox, sheet)) = next(&waiting) {
            tx.put_bytes(outbox, &sheet.composed()?)?;
            owed -= 1;
        }
        for _ in 0..owed {
            let (outbox, raw) = composed.recv().expect("OK because every order is answered");
            tx.put_bytes(outbox, &raw?)?;
        }
        Ok(())
    }

    fn put(&self, tx: &mut Tx<'_>, (outbox, raw): Composed) -> Result<(), ServiceError> {
        self.owed.set(self.owed.get() - 1);
        Ok(tx.put_bytes(outbox, &raw?)?)
    }
}

/// The next order; none once there will be no more.
fn next(waiting: &Waiting) -> Option<(OutboxId, Sheet)> {
    waiting.lock().unwrap_or_else(PoisonError::into_inner).recv().ok()
}
