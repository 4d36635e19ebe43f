//! Promise 2: no advance without the answered looks that earn it, by a naive count of answers.
//!
//! The count is generous where the rules leave it to a doubt, so it never asks for more than they
//! do: an advance that this count does not cover is wrong by any reading of them.
//!
//! Never here: the service's run of credits.
//! Promises: only what entitled people said in time is counted.

use chrono::TimeDelta;

use super::super::ledger::{ClientFacts, SittingFacts, Utterance, Writer};
use super::super::trial::{Broken, Promise};
use super::Sight;
use crate::care::Reading;
use crate::follow_up::{Entry, Event, Instant, LookId, SittingNumber};
use crate::service::due::LATE_MAX;
use crate::store::RequestTarget;

impl Sight<'_> {
    /// Holds a credit and an advance against the answers.
    pub(in super::super) fn check_credit(
        &self,
        client: usize,
        entry: &Entry,
    ) -> Result<(), Broken> {
        let facts = &self.ledger.clients[client];
        match &entry.event {
            Event::Credit { sitting, .. } => {
                let is_earned = facts
                    .sittings
                    .get(sitting.count() as usize - 1)
                    .is_some_and(|sitting| self.is_good(client, facts, sitting));
                if is_earned {
                    return Ok(());
                }
                let what = format!("client {client}: credit for sitting {sitting}, not earned");
                Err(Broken::new(Promise::Advances, what))
            }
            Event::Advanced { step, .. } => {
                if step.count() != facts.step + 1 {
                    let what = format!("client {client}: from step {} to {step}", facts.step);
                    return Err(Broken::new(Promise::Advances, what));
                }
                self.check_run(client, facts)
            }
            Event::Routine { .. } => {
                if facts.step as usize != facts.ladder().steps.len() {
                    let what = format!("client {client}: routine from step {}", facts.step);
                    return Err(Broken::new(Promise::Advances, what));
                }
                self.check_run(client, facts)
            }
            _ => Ok(()),
        }
    }

    fn check_run(&self, client: usize, facts: &ClientFacts) -> Result<(), Broken> {
        let mut run = 0;
        let mut stretch: Vec<&SittingFacts> = facts
            .sittings
            .iter()
            .filter(|sitting| sitting.begun_after >= facts.stretch_from)
            .collect();
        stretch.sort_by_key(|sitting| sitting.begun_after);
        for sitting in stretch {
            // A cancelled sitting leaves the run as it is; taken up again, it may be a good one.
            run = match self.is_good(client, facts, sitting) {
                true => run + 1,
                false if self.is_cancelled(client, sitting.number) => run,
                false => 0,
            };
        }
        let step = facts.ladder().steps.get(facts.step as usize - 1);
        let needs = step.map_or(u32::MAX, |step| step.clear_to_advance);
        if run < needs {
            let what = format!(
                "client {client}: an advance from step {} with {run} good sittings of {needs}",
                facts.step
            );
            return Err(Broken::new(Promise::Advances, what));
        }
        Ok(())
    }

    /// Whether every look of a sitting was answered in time with nothing, or with a mark that was
    /// gone soon enough.
    fn is_good(&self, client: usize, facts: &ClientFacts, sitting: &SittingFacts) -> bool {
        !sitting.looks.is_empty()
            && sitting.looks.iter().all(|look| self.is_look_good(client, facts, sitting, *look))
    }

    fn is_look_good(
        &self,
        client: usize,
        facts: &ClientFacts,
        sitting: &SittingFacts,
        id: LookId,
    ) -> bool {
        // Elapsed time is what counts, whatever the service's clock was set to.
        let Some(look) = facts.look(id) else { return false };
        let Some(asked) = look.first_asked else { return false };
        let limits = &facts.plan().looks;
        let over_at = asked
            + limits.tell_clinic_after.elapsed()
            + self.hidden_since(asked)
            + self.unnoticed();
        let rechecks: Vec<LookId> = (1..)
            .zip(&facts.looks)
            .filter(|(_, look)| look.of == Some(id))
            .map(|(number, _)| LookId::new(number))
            .collect();
        let said: Vec<&Utterance> = self
            .said_by_contacts(client)
            .filter(|said| match said.target {
                RequestTarget::Look(about) => about == id || rechecks.contains(&about),
                RequestTarget::Announcement(about) => {
                    about == sitting.number && said.means != Reading::Clear
                }
                RequestTarget::Alert(_) | RequestTarget::Other => false,
            })
            .collect();
        let slow = limits.slow_fade.count();
        let is_soon = |said: &Utterance| {
            said.means == Reading::Faded && said.minutes.is_some_and(|minutes| minutes <= slow)
        };
        // `clear` at a recheck is gone without a time, which counts as the limit.
        let gone_by_limit = limits.fade_limit.count() <= slow;
        let in_time = |said: &&&Utterance| said.worked_at.is_some_and(|at| at <= over_at);
        let calm = |said: &Utterance| said.means == Reading::Clear || is_soon(said);
        let answered =
            said.iter().filter(in_time).any(|said| calm(said) || said.means == Reading::Marked);
        // R29: a mark from any contact on file answers the newest look asked of anyone.
        let reported = self
            .marks_without_request(client)
            .any(|at| at <= over_at && newest_asked(facts, at) == Some(id));
        let marked = (reported && !answered)
            || said.iter().filter(in_time).any(|said| said.means == Reading::Marked);
        let gone = said.iter().any(|said| {
            is_soon(said)
                || (gone_by_limit && matches!(said.means, Reading::Clear | Reading::Faded))
        });
        let worse = said.iter().filter(in_time).any(|said| {
            matches!(said.means, Reading::Persisting | Reading::Alarming)
                || (said.means == Reading::Faded && said.minutes > Some(slow))
        });
        (answered || reported) && !worse && (!marked || gone)
    }

    /// How much of its absences since then steps of the clock may have hidden from the service
    /// (README, 'Limits').
    fn hidden_since(&self, since: Instant) -> TimeDelta {
        let later = self.hidden.iter().filter(|(start, _)| *start >= since);
        later.fold(TimeDelta::zero(), |sum, (_, by)| sum + *by)
    }

    /// How much steps back may add up to that the service does not notice (`service::clock`).
    fn unnoticed(&self) -> TimeDelta {
        if self.was_set_back { LATE_MAX } else { TimeDelta::zero() }
    }

    fn is_cancelled(&self, client: usize, sitting: SittingNumber) -> bool {
        let facts = &self.ledger.clients[client];
        let looks = facts.sittings.get(sitting.count() as usize - 1).map(|sitting| &sitting.looks);
        self.said_by_contacts(client).filter(|said| said.means == Reading::NoSitting).any(|said| {
            match said.target {
                RequestTarget::Announcement(about) => about == sitting,
                RequestTarget::Look(about) => looks.is_some_and(|looks| looks.contains(&about)),
                RequestTarget::Alert(_) | RequestTarget::Other => false,
            }
        })
    }

    /// What the contacts of a client have said to requests of their own, as far as it has been
    /// worked through.
    fn said_by_contacts(&self, client: usize) -> impl Iterator<Item = &Utterance> {
        self.ledger.said.iter().filter(move |said| {
            said.client == client && said.writer == Writer::Asked && said.worked_at.is_some()
        })
    }

    /// When contacts on file reported a mark without answering a request of their own, as far as it
    /// has been worked through.
    fn marks_without_request(&self, client: usize) -> impl Iterator<Item = Instant> {
        let marks = self.ledger.said.iter().filter(move |said| {
            said.client == client && said.writer == Writer::OnFile && said.means == Reading::Marked
        });
        marks.filter_map(|said| said.worked_at)
    }
}

/// The look that had been asked last by then.
fn newest_asked(facts: &ClientFacts, by: Instant) -> Option<LookId> {
    (1..)
        .zip(&facts.looks)
        .filter_map(|(number, look)| Some((look.first_asked.filter(|asked| *asked <= by)?, number)))
        .max()
        .map(|(_, number)| LookId::new(number))
}
