//! Promise 4: no accepted reply lost, none counted twice.
//!
//! Never here: what a reply means.
//! Promises: judged by the mailbox's own list of what was confirmed.

use super::super::trial::{Broken, Promise};
use super::super::world::World;
use crate::store::{InboxStatus, StoreError};

impl World<'_> {
    /// Every letter that was confirmed to the mail server has been filed or set aside.
    pub(super) fn check_no_reply_lost(&mut self) -> Result<(), Broken> {
        let refused = |error: StoreError| {
            Broken::new(Promise::Replies, format!("the inbox cannot be read: {error}"))
        };
        let posted = std::mem::take(&mut self.ledger.posted);
        let store = self.station.view();
        for letter in &posted {
            let number = letter.uid;
            if !letter.confirmed {
                let what = format!("letter {number} still lies in the mailbox");
                return Err(Broken::new(Promise::Replies, what));
            }
            let Some(inbox) = letter.inbox else {
                let what = format!("letter {number} was confirmed and never stored");
                return Err(Broken::new(Promise::Replies, what));
            };
            let record = store.read(|view| view.received(inbox)).map_err(refused)?;
            if !matches!(record.status, InboxStatus::Filed | InboxStatus::SetAside) {
                let what = format!("letter {number} was never worked through: {:?}", record.status);
                return Err(Broken::new(Promise::Replies, what));
            }
            let raw = store.read(|view| view.raw_received(inbox)).map_err(refused)?;
            if raw.as_ref() != Some(&letter.raw) {
                let what = format!("letter {number} is not kept as it came");
                return Err(Broken::new(Promise::Replies, what));
            }
        }
        self.ledger.posted = posted;
        Ok(())
    }
}
