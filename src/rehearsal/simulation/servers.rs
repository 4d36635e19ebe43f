//! The simulated mail servers: what becomes of a mail that the service hands over.
//!
//! Faults they make: refusals for now and for good, of the recipient and of us; no server in
//! reach; a mail that is taken and whose answer is lost; mail that takes hours, arrives twice or
//! comes back; reports that it is delayed.
//!
//! Never here: what readers do with a mail.
//! Promises: a mail that was accepted arrives, unless a report of failure comes back for it.

use chrono::TimeDelta;

use super::fault::Fault;
use super::ledger::{Notice, Utterance, Writer};
use super::letters;
use super::people::Delivered;
use super::trial::{Broken, Promise};
use super::world::{Happening, World};
use crate::care::Reading;
use crate::post::{Outcome, Refusal, Trouble};
use crate::store::{ClaimedMail, OutboxId, RequestTarget};

impl World<'_> {
    /// The service offers a mail to its server.
    pub(super) fn offer(&mut self, mail: &ClaimedMail) -> Result<Outcome, Broken> {
        let (outcome, now) = (self.outcome(), self.now);
        let Some(notice) = self.ledger.notices.get_mut(&mail.id.number()) else {
            let what = format!("mail {} is sent but was never seen to be put in", mail.id);
            return Err(Broken::new(Promise::Traces, what));
        };
        notice.take(&outcome, now);
        let notice = notice.clone();
        // What is carried shares the fate of what carries it.
        let parts = self.parts_of(mail);
        for part in &parts {
            if let Some(carried) = self.ledger.notices.get_mut(&part.number()) {
                carried.take(&outcome, now);
            }
        }
        self.tell(|| {
            format!(
                "mail {} to {} about {:?}: {outcome:?}",
                mail.id, mail.mail.address, notice.cause
            )
        });
        self.check_offer(&notice)?;
        if matches!(outcome, Outcome::Accepted { .. } | Outcome::InDoubt { .. }) {
            self.deliver(mail, &notice, &parts);
        }
        Ok(outcome)
    }

    /// The mails that a mail about several clients carries.
    fn parts_of(&mut self, mail: &ClaimedMail) -> Vec<OutboxId> {
        if mail.mail.follow_up.is_some() {
            return Vec::new();
        }
        let parts = self.station.view().read(|view| view.parts_of(mail.id));
        parts.unwrap_or_default().into_iter().map(|part| part.id).collect()
    }

    /// What a reader of a mail about several clients has in hand about each: the buttons under the
    /// name, or the mail as a whole, in which an answer names the client.
    fn unfolded(&mut self, whole: &Delivered, parts: &[OutboxId]) -> Vec<Delivered> {
        let mut all = Vec::new();
        for part in parts {
            let part = *part;
            let raw = self.station.view().read(|view| view.raw_mail(part)).ok().flatten();
            let (Some(raw), Some(notice)) = (raw, self.ledger.notices.get(&part.number())) else {
                continue;
            };
            let (record, cause) = (notice.record.clone(), notice.cause);
            let client = record.follow_up.and_then(|id| self.ledger.client_of(id));
            let (Some(client), Some(own)) = (client, letters::answered(&raw)) else { continue };
            let reference = self.ledger.clients[client].file.reference.to_string();
            let by_name = self.dice.people.per_mille(600);
            all.push(Delivered {
                answered: if by_name { whole.answered.clone() } else { own },
                client: Some(client),
                cause,
                target: record.target,
                person: record.person,
                raw: if by_name { whole.raw.clone() } else { raw },
                named: by_name.then_some(reference),
                ..whole.clone()
            });
        }
        all
    }

    /// A mail that may go again without anybody's fault: nobody knows whether it went.
    pub(super) fn excuse(&mut self, mail: &ClaimedMail) {
        if let Some(notice) = self.ledger.notices.get_mut(&mail.id.number()) {
            notice.excused += 1;
        }
    }

    /// All mail that was with a sender when the process ended may go again.
    pub(super) fn excuse_sending(&mut self) {
        for notice in self.ledger.notices.values_mut().rev().take(64) {
            notice.excused += 1;
        }
    }

    fn outcome(&mut self) -> Outcome {
        let refused = |permanent, recipient_at_fault, code| {
            Outcome::Refused(Refusal {
                permanent,
                recipient_at_fault,
                code,
                text: "simulated".to_owned(),
            })
        };
        if self.cut_off_until.is_some_and(|until| self.now < until) {
            let why = "simulated".to_owned();
            return Outcome::Unreachable { trouble: Trouble::Connect, why };
        }
        if self.strikes(Fault::RefusedForNow, 20) {
            refused(false, true, 450)
        } else if self.strikes(Fault::RefusedForGood, 2) {
            refused(true, true, 550)
        } else if self.strikes(Fault::RefusedUs, 8) {
            refused(true, false, 554)
        } else if self.strikes(Fault::AnswerLost, 15) {
            Outcome::InDoubt { why: "simulated".to_owned() }
        } else {
            Outcome::Accepted { reply: "simulated".to_owned() }
        }
    }

    fn deliver(&mut self, mail: &ClaimedMail, notice: &Notice, parts: &[OutboxId]) {
        let Some(answered) = letters::answered(&mail.mail.raw) else { return };
        let follow_up = mail.mail.follow_up;
        let delivered = Delivered {
            answered,
            address: mail.mail.address.clone(),
            person: mail.mail.person.clone(),
            client: follow_up.and_then(|follow_up| self.ledger.client_of(follow_up)),
            cause: notice.cause,
            target: mail.mail.target,
            raw: mail.mail.raw.clone(),
            named: None,
        };
        if self.strikes(Fault::Bounce, 2) {
            self.report(mail, &delivered, "failed");
            return;
        }
        if self.strikes(Fault::DelayReport, 5) {
            self.report(mail, &delivered, "delayed");
        }
        let mut wait = TimeDelta::seconds(self.dice.servers.between(1, 60));
        if self.strikes(Fault::SlowMail, 10) {
            wait += TimeDelta::minutes(self.dice.servers.between(20, 480));
        }
        let again = self
            .strikes(Fault::MailDoubled, 10)
            .then(|| wait + TimeDelta::minutes(self.dice.servers.between(0, 90)));
        let mut in_hand = self.unfolded(&delivered, parts);
        if parts.is_empty() {
            in_hand.push(delivered);
        }
        for one in in_hand {
            if let Some(again) = again {
                self.at(self.now + again, Happening::Read(Box::new(one.clone())));
            }
            self.at(self.now + wait, Happening::Read(Box::new(one)));
        }
    }

    fn report(&mut self, mail: &ClaimedMail, delivered: &Delivered, action: &str) {
        let number = self.ledger.said.len();
        let raw = letters::delivery_report(number, &mail.mail.raw, &mail.mail.address, action);
        self.ledger.said.push(Utterance {
            means: Reading::Automatic,
            minutes: None,
            client: delivered.client.unwrap_or(0),
            writer: Writer::Machine,
            target: RequestTarget::Other,
            is_plain: true,
            worked_at: None,
        });
        let wait = TimeDelta::minutes(self.dice.servers.between(0, 60));
        self.at(self.now + wait, Happening::Post(raw));
    }
}
