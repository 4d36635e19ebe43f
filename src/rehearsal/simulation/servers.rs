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
use crate::store::{ClaimedMail, RequestTarget};

impl World<'_> {
    /// The service offers a mail to its server.
    pub(super) fn offer(&mut self, mail: &ClaimedMail) -> Result<Outcome, Broken> {
        let (outcome, now) = (self.outcome(), self.now);
        let Some(notice) = self.ledger.notices.get_mut(&mail.id.number()) else {
            let what = format!("mail {} is sent but was never seen to be put in", mail.id);
            return Err(Broken::new(Promise::Traces, what));
        };
        notice.offered += 1;
        notice.touched = now;
        match &outcome {
            Outcome::Accepted { .. } => notice.accepted += 1,
            Outcome::InDoubt { .. } => notice.excused += 1,
            Outcome::Refused(refusal) => notice.refused |= refusal.recipient_at_fault,
            Outcome::Unreachable { .. } => {}
        }
        let notice = notice.clone();
        self.tell(|| {
            format!(
                "mail {} to {} about {:?}: {outcome:?}",
                mail.id, mail.mail.address, notice.cause
            )
        });
        self.check_offer(&notice)?;
        if matches!(outcome, Outcome::Accepted { .. } | Outcome::InDoubt { .. }) {
            self.deliver(mail, &notice);
        }
        Ok(outcome)
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

    fn deliver(&mut self, mail: &ClaimedMail, notice: &Notice) {
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
        if self.strikes(Fault::MailDoubled, 10) {
            let again = wait + TimeDelta::minutes(self.dice.servers.between(0, 90));
            self.at(self.now + again, Happening::Read(Box::new(delivered.clone())));
        }
        self.at(self.now + wait, Happening::Read(Box::new(delivered)));
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
