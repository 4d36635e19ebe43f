//! A trial of the mail account: one mail to itself, one to a clinician, and the answer to it.
//!
//! Never here: printing; what to do about a server that fails (`remedy`).
//! Promises: the steps come in one order; a step that was not tried says so and why; nothing in the
//! mailbox is marked or moved.

mod awaiting;
mod finding;
mod sending;

use std::time::Duration;

use super::remedy;
use crate::config::{Clinician, MailIn, MailOut, Server};
use crate::notice::Desk;
use crate::post::inbox::Onlooker;
use crate::post::{Outage, Outlet};
use crate::service::{Clock, Office, lines};

pub use finding::{Ending, Finding, Step};

/// How long is waited.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// For the mail to itself.
    pub own: Duration,
    /// For the clinician's answer.
    pub answer: Duration,
}

/// Tries the mail account out, and tells each finding when it is there.
pub async fn trial(
    office: &Office,
    clinician: &Clinician,
    patience: Patience,
    mut tell: impl FnMut(&Finding),
) -> Vec<Finding> {
    let mut trial = Trial { office, findings: Vec::new(), tell: &mut tell };
    trial.run(clinician, patience).await;
    trial.findings
}

struct Trial<'t> {
    office: &'t Office,
    findings: Vec<Finding>,
    tell: &'t mut dyn FnMut(&Finding),
}

impl Trial<'_> {
    async fn run(&mut self, clinician: &Clinician, patience: Patience) {
        let Some((outlet, mut onlooker)) = self.open().await else { return };
        let own = self.send_own(&outlet).await;
        match (&mut onlooker, &own) {
            (Some(onlooker), Some(sent)) => self.await_own(onlooker, sent, patience.own).await,
            _ => {
                let why = "needs mail out and the mailbox";
                self.not_tried(Step::PlusAddress, why);
                self.not_tried(Step::Clock, why);
            }
        }
        let asked = if own.is_some() {
            self.send_to(&outlet, clinician).await
        } else {
            self.not_tried(Step::Clinician, "needs mail out");
            None
        };
        match (&mut onlooker, &asked) {
            (Some(onlooker), Some(sent)) => {
                self.await_answer(onlooker, sent, patience.answer).await;
            }
            _ => self.not_tried(Step::Answer, "needs the mail before it and the mailbox"),
        }
        outlet.drained().await;
    }

    /// The way out, and the mailbox where it can be read.
    async fn open(&mut self) -> Option<(Outlet, Option<Onlooker>)> {
        let mail = &self.office.clinic.mail;
        // A trial is over long before a token lapses: nobody keeps it fresh here.
        let lines = lines::outlet(&mail.out, "mail.out").and_then(|(outlet, _)| {
            let (inbox, _) = lines::inbox(mail, Clock::Real.now())?;
            Ok((outlet, inbox))
        });
        let (outlet, inbox) = match lines {
            Ok(lines) => lines,
            Err(error) => {
                self.fails(
                    Step::Settings,
                    error.to_string(),
                    "correct it in the clinic file, or in the file that it names".to_owned(),
                );
                for step in Step::ALL.into_iter().skip(1) {
                    self.not_tried(step, "needs the settings");
                }
                return None;
            }
        };
        self.works(Step::Settings, "the mail account's settings and password can be used");
        match Onlooker::open(&inbox).await {
            Ok(onlooker) => {
                self.works(Step::Mailbox, self.reached(mail_in(&mail.incoming)));
                Some((outlet, Some(onlooker)))
            }
            Err(outage) => {
                self.mailbox_fails(&outage);
                Some((outlet, None))
            }
        }
    }

    fn mailbox_fails(&mut self, outage: &Outage) {
        let server = mail_in(&self.office.clinic.mail.incoming);
        let advice = remedy::about_mailbox(outage, server);
        self.fails(Step::Mailbox, advice.fact, advice.remedy);
    }

    /// `mail.clinic.example found, certificate and login in order`.
    fn reached(&self, server: Option<&Server>) -> String {
        match server {
            None => "the folder can be used".to_owned(),
            Some(server) => {
                let login = if server.login.is_some() { ", login taken" } else { "" };
                let certificate = match server.security {
                    crate::config::Security::PlainLoopback => "",
                    _ => ", certificate in order",
                };
                format!("{} found{certificate}{login}", server.host)
            }
        }
    }

    fn desk<'d>(&'d self, language: &'d str) -> Desk<'d> {
        Desk {
            languages: &self.office.languages,
            language,
            zone: &self.office.calendar,
            now: Clock::Real.now(),
        }
    }

    fn works(&mut self, step: Step, fact: impl Into<String>) {
        self.note(Finding { step, ending: Ending::Works, fact: fact.into(), remedy: None });
    }

    fn fails(&mut self, step: Step, fact: String, remedy: String) {
        self.note(Finding { step, ending: Ending::Fails, fact, remedy: Some(remedy) });
    }

    fn not_tried(&mut self, step: Step, why: &str) {
        if self.findings.iter().all(|finding| finding.step != step) {
            let fact = why.to_owned();
            self.note(Finding { step, ending: Ending::NotTried, fact, remedy: None });
        }
    }

    fn note(&mut self, finding: Finding) {
        (self.tell)(&finding);
        self.findings.push(finding);
    }
}

fn mail_in(incoming: &MailIn) -> Option<&Server> {
    match incoming {
        MailIn::Imap { server, .. } => Some(server),
        MailIn::Maildir(_) => None,
    }
}

fn mail_out(out: &MailOut) -> Option<&Server> {
    match out {
        MailOut::Smtp(server) => Some(server),
        MailOut::Maildir(_) => None,
    }
}
