//! What comes back of a trial: its own mail with the token, the clinician's answer, the clocks.
//!
//! Never here: sending.
//! Promises: nothing in the mailbox is marked or moved.

use std::time::Duration;

use chrono::TimeDelta;
use tokio::time::Instant as Moment;

use super::sending::Sent;
use super::{Step, Trial, mail_in};
use crate::post::Outage;
use crate::post::inbox::{Newcomer, Onlooker};
use crate::reply::letter::{self, Delivery, Kind, Letter};
use crate::service::Clock;
use crate::setup::remedy::{self, PLUS};

/// The clocks of mail servers are kept within a second as a rule; a mail may lie a while.
const CLOCK_APART_MAX: TimeDelta = TimeDelta::seconds(90);

impl Trial<'_> {
    pub(super) async fn await_own(
        &mut self,
        onlooker: &mut Onlooker,
        sent: &Sent,
        patience: Duration,
    ) {
        let until = Moment::now() + patience;
        loop {
            let newcomers = match look(onlooker, until).await {
                Ok(Some(newcomers)) => newcomers,
                Ok(None) => {
                    let fact = format!(
                        "a mail to {} did not come within {} s",
                        sent.answer_to.without_token().as_str().replacen('@', "+…@", 1),
                        patience.as_secs()
                    );
                    self.fails(
                        Step::PlusAddress,
                        fact,
                        format!(
                            "look whether it went into another folder, such as spam; else {PLUS}"
                        ),
                    );
                    return self.not_tried(Step::Clock, "needs the mail before it");
                }
                Err(outage) => {
                    self.mailbox_fails(&outage);
                    self.not_tried(Step::PlusAddress, "the mailbox was lost");
                    return self.not_tried(Step::Clock, "the mailbox was lost");
                }
            };
            for newcomer in newcomers {
                let letter = letter::open(&newcomer.raw);
                if let Some(why) = bounced(&letter, sent) {
                    let fact = format!("a mail to an address with a plus sign came back: {why}");
                    self.fails(Step::PlusAddress, fact, PLUS.to_owned());
                    return self.not_tried(Step::Clock, "needs the mail before it");
                }
                if letter.message_id.as_deref() != Some(sent.message_id.as_str()) {
                    continue;
                }
                let took = (Clock::Real.now() - sent.at).num_seconds().max(0);
                if is_to(&letter, sent) {
                    let fact = format!("a mail to itself came after {took} s, with its token");
                    self.works(Step::PlusAddress, fact);
                } else {
                    let fact = "what stands after the plus sign is lost on the way".to_owned();
                    self.fails(Step::PlusAddress, fact, PLUS.to_owned());
                }
                return self.compare_clocks(&newcomer, sent);
            }
        }
    }

    /// The mail was received between its sending and now, by the server's clock too.
    fn compare_clocks(&mut self, newcomer: &Newcomer, sent: &Sent) {
        let Some(received) = newcomer.received_at else {
            return self.not_tried(Step::Clock, "the mail server does not say when mail came");
        };
        let now = Clock::Real.now();
        let apart = if received < sent.at {
            sent.at - received
        } else if received > now {
            received - now
        } else {
            TimeDelta::zero()
        };
        if apart <= CLOCK_APART_MAX {
            return self.works(Step::Clock, "agrees with the mail server's");
        }
        let (way, minutes) =
            (if received < sent.at { "ahead of" } else { "behind" }, apart.num_minutes().max(1));
        self.fails(
            Step::Clock,
            format!("this machine's clock is {minutes} min {way} the mail server's"),
            "let this machine keep its clock by the network (NTP), such as `timedatectl set-ntp \
             true`; if it is right, whoever runs the mail server has to mend theirs"
                .to_owned(),
        );
    }

    pub(super) async fn await_answer(
        &mut self,
        onlooker: &mut Onlooker,
        sent: &Sent,
        patience: Duration,
    ) {
        let until = Moment::now() + patience;
        let mut absent = "";
        loop {
            let newcomers = match look(onlooker, until).await {
                Ok(Some(newcomers)) => newcomers,
                Ok(None) => {
                    let fact = format!("no answer within {} s{absent}", patience.as_secs());
                    let remedy = "if it was answered: look whether the answer went to another \
                                  folder, such as spam. If the mail never came: look for it in the \
                                  clinician's spam folder, and check the address";
                    return self.fails(Step::Answer, fact, remedy.to_owned());
                }
                Err(outage) => {
                    let server = mail_in(&self.office.clinic.mail.incoming);
                    let advice = remedy::about_mailbox(&outage, server);
                    return self.fails(Step::Answer, advice.fact, advice.remedy);
                }
            };
            for newcomer in newcomers {
                let letter = letter::open(&newcomer.raw);
                if let Some(why) = bounced(&letter, sent) {
                    let fact = format!("the mail could not be delivered: {why}");
                    let remedy = "check the clinician's `mail` in the clinic file";
                    return self.fails(Step::Answer, fact, remedy.to_owned());
                }
                let answers = letter.in_reply_to.iter().chain(&letter.references);
                let is_answer = answers.into_iter().any(|id| *id == sent.message_id);
                if !is_answer && !is_to(&letter, sent) {
                    continue;
                }
                if letter.kind != Kind::Person {
                    absent = "; only an automatic answer came";
                    continue;
                }
                let took = (Clock::Real.now() - sent.at).num_seconds().max(0);
                if is_to(&letter, sent) {
                    return self
                        .works(Step::Answer, format!("came after {took} s, with its token"));
                }
                let fact = "an answer came, but without what stood after the plus sign".to_owned();
                return self.fails(Step::Answer, fact, PLUS.to_owned());
            }
        }
    }
}

/// What came, none once the time is over.
async fn look(onlooker: &mut Onlooker, until: Moment) -> Result<Option<Vec<Newcomer>>, Outage> {
    let left = until.saturating_duration_since(Moment::now());
    let newcomers = onlooker.newcomers(left).await?;
    let is_over = newcomers.is_empty() && Moment::now() >= until;
    Ok((!is_over).then_some(newcomers))
}

/// Why a mail came back, where it did.
fn bounced(letter: &Letter, sent: &Sent) -> Option<String> {
    let Kind::DeliveryReport(reports) = &letter.kind else { return None };
    let about = reports.iter().find(|report| {
        report.action == Delivery::Failed
            && (report.original_message_id.as_deref() == Some(sent.message_id.as_str())
                || is_to(letter, sent))
    })?;
    Some(about.status.clone().unwrap_or_else(|| "no reason given".to_owned()))
}

/// Whether a mail went to the address with the token.
fn is_to(letter: &Letter, sent: &Sent) -> bool {
    letter.recipients.iter().any(|to| to.eq_ignore_ascii_case(sent.answer_to.as_str()))
}
