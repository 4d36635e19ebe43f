//! Composes the mail of many acts on a thread beside the writer, which goes on with the next act.
//!
//! Never here: what a mail says and where it belongs (`mailing`), SQL.
//! Promises: within one transaction; once `finish` has returned, every mail that was ordered lies whole
//! in the outbox; a mail that cannot be composed fails the transaction, as it does without a scribe.

use std::cell::Cell;
use std::sync::mpsc::{Receiver, Sender, channel};
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
    composed: Receiver<Composed>,
    /// Mails that are ordered and not in the outbox yet.
    owed: Cell<usize>,
}

impl Scribe {
    /// Sets a scribe to work, where there are acts enough.
    pub(super) fn for_acts<'scope>(acts: usize, scope: &'scope Scope<'scope, '_>) -> Option<Self> {
        if acts < WORTH_IT_FROM {
            return None;
        }
        let (orders, ordered) = channel::<(OutboxId, Sheet)>();
        let (done, composed) = channel();
        scope.spawn(move || {
            for (outbox, sheet) in ordered {
                // Whoever ordered may have given up: then nobody wants the rest either.
                if done.send((outbox, sheet.composed())).is_err() {
                    return;
                }
            }
        });
        Some(Self { orders, composed, owed: Cell::new(0) })
    }

    /// Orders the bytes of a mail that has its row in the outbox.
    pub(super) fn order(&self, outbox: OutboxId, sheet: Sheet) {
        self.orders.send((outbox, sheet)).expect("OK because the scribe waits for orders");
        self.owed.set(self.owed.get() + 1);
    }

    /// Puts into the outbox what is composed by now.
    pub(super) fn hand_in(&self, tx: &mut Tx<'_>) -> Result<(), ServiceError> {
        self.composed.try_iter().try_for_each(|composed| self.put(tx, composed))
    }

    /// Waits for what is not composed yet, and puts it into the outbox.
    pub(super) fn finish(self, tx: &mut Tx<'_>) -> Result<(), ServiceError> {
        while self.owed.get() > 0 {
            let composed = self.composed.recv().expect("OK because every order is answered");
            self.put(tx, composed)?;
        }
        Ok(())
    }

    fn put(&self, tx: &mut Tx<'_>, (outbox, raw): Composed) -> Result<(), ServiceError> {
        self.owed.set(self.owed.get() - 1);
        Ok(tx.put_bytes(outbox, &raw?)?)
    }
}
