//! Promise 1: no report of a lasting mark or of an alarming sign without a committed alert, and
//! no alert that is not offered to the mail server until somebody has taken it up.
//!
//! Never here: what the service thinks a report means.
//! Promises: judged by what was meant by the one who wrote, and by the mail that was put in and
//! offered.

use chrono::TimeDelta;

use super::super::ledger::{Cause, Ledger, Utterance, Writer};
use super::super::trial::{Broken, Promise};
use super::super::world::{World, text};
use super::{Led, Notice, Sight};
use crate::care::Reading;
use crate::follow_up::event::LookKind;
use crate::follow_up::{AlertId, Event, Instant};
use crate::store::RequestTarget;

/// What an alert may be late by, on top of its pace: tries again, a busy minute, a slow server.
const LATE_MAX: TimeDelta = TimeDelta::minutes(25);
/// Within this the first mail of an alert must have been offered.
const FIRST_OFFER_MAX: TimeDelta = TimeDelta::minutes(20);

impl Ledger {
    /// A clinician's word takes an alert up.
    pub(in super::super) fn note_clinician(&mut self, said: &Utterance, led: Led, now: Instant) {
        if said.writer != Writer::Clinician || led.set_aside {
            return;
        }
        if let Some(owed) = &mut self.clients[said.client].owed {
            match said.means {
                Reading::KeepStopped => self.clients[said.client].owed = None,
                Reading::Seen => {
                    owed.acknowledged = true;
                    owed.last_offered = now;
                }
                _ => {}
            }
        }
    }

    /// Whether what is worked through answers a recheck that waits for its answer.
    pub(in super::super) fn is_about_open_recheck(&self, said: Option<&Utterance>) -> bool {
        let Some((said, RequestTarget::Look(id))) = said.map(|said| (said, said.target)) else {
            return false;
        };
        self.clients[said.client]
            .look(id)
            .is_some_and(|look| look.kind == LookKind::Recheck && !look.settled)
    }
}

impl Sight<'_> {
    /// What must follow from something that was said, once it is worked through.
    pub(in super::super) fn check_worked(
        &self,
        said: &Utterance,
        (stopped_before, open_recheck_before): (bool, bool),
        led: Led,
    ) -> Result<(), Broken> {
        if !said.is_plain || !is_worrying(said.means) {
            return Ok(());
        }
        let facts = &self.ledger.clients[said.client];
        let Led { told, alerted, .. } = led;
        let broken = |what: &str| {
            let what = format!(
                "a report ({}, {:?}, about {:?}) of client {} {what}",
                said.means.name(),
                said.writer,
                said.target,
                said.client
            );
            Err(Broken::new(Promise::Alerts, what))
        };
        let is_entitled = matches!(said.writer, Writer::Asked | Writer::OnFile);
        if !is_entitled || facts.closed {
            return if told || (facts.closed && is_entitled) {
                Ok(())
            } else {
                broken("was shown to nobody at the clinic")
            };
        }
        // A mark at a recheck is a lasting mark.
        let must_stop =
            said.means != Reading::Marked || (open_recheck_before && said.writer == Writer::Asked);
        if stopped_before {
            let waits = facts.owed.is_some_and(|owed| !owed.acknowledged);
            let alarming = said.means == Reading::Alarming;
            return if !told {
                broken("while stopped was told to nobody")
            } else if alarming && !waits {
                broken("while stopped left no alert that waits for somebody")
            } else {
                Ok(())
            };
        }
        if must_stop && !(alerted && facts.stopped) {
            return broken("led to no alert");
        }
        // A mark is followed up: by a stop at its recheck, by a new recheck elsewhere.
        let open_recheck =
            facts.recent_looks().any(|(_, look)| look.kind == LookKind::Recheck && !look.settled);
        if said.means == Reading::Marked && !(alerted || open_recheck || told) {
            return broken("is followed up by nobody");
        }
        Ok(())
    }

    /// What was meant as worrying must never be read as calm.
    pub(super) fn check_no_false_calm(
        &self,
        event: &Event,
        said: Option<&Utterance>,
    ) -> Result<(), Broken> {
        let (Event::Answered { reading, .. }, Some(said)) = (event, said) else { return Ok(()) };
        let is_calm = matches!(
            reading,
            Reading::Clear
                | Reading::Faded
                | Reading::Started
                | Reading::NoSitting
                | Reading::NotLooked
        );
        let under_read = said.is_plain
            && said.means == Reading::Alarming
            && matches!(reading, Reading::Marked | Reading::Persisting);
        if is_worrying(said.means) && (is_calm || under_read) {
            let what = format!("{} was read as {}", said.means.name(), reading.name());
            return Err(Broken::new(Promise::Alerts, what));
        }
        Ok(())
    }

    /// Every alert that is owed goes on being offered.
    pub(super) fn check_alerts_go_on(&self) -> Result<(), Broken> {
        let Some(able_since) = self.able_since else { return Ok(()) };
        for (index, facts) in self.ledger.clients.iter().enumerate() {
            let Some(owed) = facts.owed else { continue };
            let since = owed.last_offered.max(able_since);
            let pace = match (owed.acknowledged, owed.offered) {
                (false, false) => FIRST_OFFER_MAX,
                (false, true) => facts.plan().stop.repeat_alert.elapsed() + LATE_MAX,
                (true, _) => TimeDelta::hours(25) + LATE_MAX,
            };
            // Whatever the clock was set to, nobody waits longer for an alert that nobody has taken
            // up. One that was taken up comes at a time of day, which goes by the clock.
            let clock =
                if owed.acknowledged { self.set_back_since(since) } else { TimeDelta::zero() };
            let waited = self.now - since;
            if waited > pace + clock {
                let what = format!(
                    "the alert of client {index} was not offered for {} (acknowledged: {})",
                    text(waited),
                    owed.acknowledged
                );
                return Err(Broken::new(Promise::Alerts, what));
            }
        }
        Ok(())
    }
}

impl World<'_> {
    /// A mail is offered to the mail server.
    pub(in super::super) fn check_offer(&mut self, notice: &Notice) -> Result<(), Broken> {
        let client = notice.record.follow_up.and_then(|id| self.ledger.client_of(id));
        if let (Some(Cause::Alerted), Some(client)) = (notice.cause, client) {
            self.ledger.clients[client].note_alert_offered(self.now);
        }
        self.check_not_doubled(notice)
    }

    /// Every mail of a stop or an alert goes on being offered until a server has taken it, whatever
    /// the clock is set to meanwhile.
    pub(super) fn check_no_urgent_mail_waits(&mut self) -> Result<(), Broken> {
        let Some(able_since) = self.able_since() else { return Ok(()) };
        let Ledger { notices, untaken, .. } = &mut self.ledger;
        untaken.retain(|number| notices.get(number).is_some_and(|mail| !mail.is_done_with()));
        let able_since = self.cut_off_until.max(Some(able_since));
        let is_wanted = |notice: &&Notice| match (notice.cause, notice.record.target) {
            (Some(Cause::ToldToStop), _) => true,
            (Some(Cause::Alerted), RequestTarget::Alert(alert)) => {
                self.is_newest_waiting(notice, alert)
            }
            _ => false,
        };
        let untaken =
            self.ledger.untaken.iter().filter_map(|number| self.ledger.notices.get(number));
        for notice in untaken.filter(is_wanted) {
            let waited = self.now - able_since.map_or(notice.touched, |at| at.max(notice.touched));
            if waited > LATE_MAX {
                let (id, cause) = (notice.record.id, notice.cause);
                let what = format!("mail {id} ({cause:?}) was not offered for {}", text(waited));
                return Err(Broken::new(Promise::Alerts, what));
            }
        }
        Ok(())
    }

    /// Whether nobody has taken an alert up, and there is no newer one.
    fn is_newest_waiting(&self, notice: &Notice, alert: AlertId) -> bool {
        let client = notice.record.follow_up.and_then(|id| self.ledger.client_of(id));
        client.map(|client| &self.ledger.clients[client]).is_some_and(|facts| {
            facts.newest_alert == alert.count() && facts.owed.is_some_and(|owed| !owed.acknowledged)
        })
    }
}

/// Whether a reading must never be lost.
fn is_worrying(means: Reading) -> bool {
    matches!(means, Reading::Marked | Reading::Persisting | Reading::Alarming)
}
