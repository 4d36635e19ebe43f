//! Once all is calm: everything owed is finished. No look is left unanswered without a miss or a
//! stop, no mail waits, no letter lies unread.
//!
//! Never here: what may go wrong while trouble is on.
//! Promises: judged by the requests that were made and by the mail servers' own count.

use chrono::TimeDelta;

use super::super::trial::{Broken, Promise};
use super::super::world::{World, text};
use super::Sight;
use crate::follow_up::event::LookKind;
use crate::store::{MailStatus, StoreError};

/// What a miss may be late by: tries again, a busy minute.
const LATE_MAX: TimeDelta = TimeDelta::minutes(20);
/// A mail may wait so long for its next try.
const NEXT_TRY_MAX: TimeDelta = TimeDelta::minutes(16);

impl Sight<'_> {
    /// Every look that was asked is settled once its time is over.
    pub(super) fn check_no_look_forgotten(&self) -> Result<(), Broken> {
        let Some(able_since) = self.able_since else { return Ok(()) };
        for (client, facts) in self.ledger.clients.iter().enumerate() {
            let limits = &facts.plan().looks;
            for (number, look) in facts.recent_looks() {
                let Some(asked) = look.first_asked.filter(|_| !look.settled) else {
                    continue;
                };
                let over_after = match look.kind {
                    LookKind::Recheck => limits.recheck_within,
                    LookKind::First | LookKind::Routine => limits.tell_clinic_after,
                };
                let allowed = over_after.elapsed() + LATE_MAX + self.set_back_since(asked);
                let able_for = self.now - able_since;
                let waited = self.now - asked;
                if waited > allowed && able_for > LATE_MAX + self.set_back_since(asked) {
                    let what = format!(
                        "client {client}: look {number} ({:?}) was asked {} ago, and nothing \
                         followed",
                        look.kind,
                        text(waited)
                    );
                    let promise = match look.kind {
                        LookKind::Recheck => Promise::Alerts,
                        LookKind::First | LookKind::Routine => Promise::Calm,
                    };
                    return Err(Broken::new(promise, what));
                }
            }
        }
        Ok(())
    }

    /// What every run ends with: nothing waits that people are owed.
    pub(in super::super) fn check_nothing_is_owed(&self) -> Result<(), Broken> {
        self.check_no_look_forgotten()?;
        self.check_alerts_go_on()
    }
}

impl World<'_> {
    /// The end of a run.
    pub(in super::super) fn check_everything_is_finished(&mut self) -> Result<(), Broken> {
        self.sight().check_nothing_is_owed()?;
        self.check_no_reply_lost()?;
        let refused = |error: StoreError| {
            Broken::new(Promise::Calm, format!("the outbox cannot be read: {error}"))
        };
        let now = self.now;
        let counts = self.station.view().read(|view| view.outbox_counts()).map_err(refused)?;
        let waits_long = counts.oldest.is_some_and(|oldest| now - oldest > NEXT_TRY_MAX);
        if counts.sending > 0 || waits_long {
            return Err(Broken::new(Promise::Calm, format!("mail is left: {counts:?}")));
        }
        self.check_sent_was_accepted()?;
        let due = self.station.view().read(|view| view.earliest_due()).map_err(refused)?;
        if due.is_some_and(|due| due < now - TimeDelta::minutes(2)) {
            return Err(Broken::new(Promise::Calm, format!("something is due since {due:?}")));
        }
        Ok(())
    }

    /// What the service takes for sent was accepted by a server, or may have been.
    fn check_sent_was_accepted(&mut self) -> Result<(), Broken> {
        let mails = self.station.view().read(|view| view.newest_mails(u32::MAX));
        let mails = mails.map_err(|error: StoreError| {
            Broken::new(Promise::Calm, format!("the outbox cannot be read: {error}"))
        })?;
        for mail in mails.iter().filter(|mail| mail.status == MailStatus::Sent) {
            let went = self
                .ledger
                .notices
                .get(&mail.id.number())
                .is_some_and(|notice| notice.accepted + notice.excused > 0);
            if !went {
                let what = format!("mail {} counts as sent, and no server took it", mail.id);
                return Err(Broken::new(Promise::Calm, what));
            }
        }
        Ok(())
    }
}
