//! The mails of a trial: one to the account itself, one to a clinician.
//!
//! Never here: waiting for what comes back.
//! Promises: whatever hinders a mail is a finding with its remedy.

use super::{Step, Trial, mail_out};
use crate::config::Clinician;
use crate::follow_up::Instant;
use crate::notice;
use crate::post::message::{Draft, compose};
use crate::post::{Address, Mailbox, Outcome, Outlet};
use crate::service::Clock;
use crate::setup::remedy;

/// A mail that went out.
pub(super) struct Sent {
    pub message_id: String,
    pub answer_to: Address,
    pub at: Instant,
}

impl Trial<'_> {
    pub(super) async fn send_own(&mut self, outlet: &Outlet) -> Option<Sent> {
        let office = self.office;
        let language = office.clinic.clinicians.first().map_or("en", |c| c.language.as_str());
        let desk = self.desk(language);
        let draft = desk.trial_to_itself(&office.clinic.name);
        let whom = |answer_to: &Address| Mailbox::new(&office.clinic.name, answer_to.clone());
        match self.send(outlet, &draft, whom).await {
            Ok(sent) => {
                let reached = match mail_out(&office.clinic.mail.out) {
                    None => "mail goes into a folder, not to a server".to_owned(),
                    server => format!("{}, mail taken", self.reached(server)),
                };
                self.works(Step::Sending, reached);
                Some(sent)
            }
            Err(outcome) => {
                let server = mail_out(&office.clinic.mail.out);
                let advice = remedy::about_sending(&outcome, server);
                let at_recipient =
                    matches!(&outcome, Outcome::Refused(no) if no.recipient_at_fault);
                if at_recipient {
                    self.works(Step::Sending, self.reached(server));
                    self.fails(Step::PlusAddress, advice.fact, advice.remedy);
                    self.not_tried(Step::Clock, "needs the mail before it");
                    for step in [Step::Clinician, Step::Answer] {
                        self.not_tried(step, "no answer could come back");
                    }
                } else {
                    self.fails(Step::Sending, advice.fact, advice.remedy);
                }
                None
            }
        }
    }

    pub(super) async fn send_to(&mut self, outlet: &Outlet, clinician: &Clinician) -> Option<Sent> {
        let draft = self.desk(clinician.language.as_str()).trial(&self.office.clinic.name);
        let Ok(address) = Address::parse(clinician.mail.as_str()) else {
            let fact = format!("the address of `{}` cannot be written to", clinician.id);
            self.fails(Step::Clinician, fact, "correct `mail` in the clinic file".to_owned());
            return None;
        };
        let name = clinician.name.as_str();
        match self.send(outlet, &draft, |_| Mailbox::new(name, address.clone())).await {
            Ok(sent) => {
                self.works(Step::Clinician, format!("sent to `{}`", clinician.id));
                Some(sent)
            }
            Err(outcome) => {
                let server = mail_out(&self.office.clinic.mail.out);
                let advice = remedy::about_sending(&outcome, server);
                let remedy = match &outcome {
                    Outcome::Refused(no) if no.recipient_at_fault => {
                        format!("check `mail` of `{}` in the clinic file", clinician.id)
                    }
                    _ => advice.remedy,
                };
                self.fails(Step::Clinician, advice.fact, remedy);
                None
            }
        }
    }

    pub(super) async fn send(
        &self,
        outlet: &Outlet,
        draft: &notice::Draft,
        whom: impl FnOnce(&Address) -> Mailbox,
    ) -> Result<Sent, Outcome> {
        let unusable =
            |why: String| Outcome::Unreachable { trouble: crate::post::Trouble::Protocol, why };
        let office = self.office;
        let at = Clock::Real.now();
        let token = office.token(at).map_err(|error| unusable(error.to_string()))?.to_string();
        let answer_to =
            office.reply_to.with_token(&token).map_err(|error| unusable(error.to_string()))?;
        let notice = draft.addressed(answer_to.as_str());
        let message_id = format!("<trial-{token}@{}>", office.from.address.domain());
        let to = whom(&answer_to);
        let raw = compose(&Draft {
            from: office.from.clone(),
            to: to.clone(),
            reply_to: Some(Mailbox::new(&office.clinic.name, answer_to.clone())),
            message_id: message_id.clone(),
            in_reply_to: None,
            references: Vec::new(),
            subject: notice.subject,
            date: at,
            text: notice.text,
            html: Some(notice.html),
            inline_images: Vec::new(),
            calendar: None,
            attachments: Vec::new(),
            extra_headers: Vec::new(),
        })
        .map_err(|error| unusable(error.to_string()))?;
        let message_id = message_id.trim_matches(['<', '>']).to_owned();
        // A bounce has to come back even where the server does not keep what stands after the plus.
        match outlet.send(&office.from.address, &to.address, &raw).await {
            Outcome::Accepted { .. } => Ok(Sent { message_id, answer_to, at }),
            other => Err(other),
        }
    }
}
