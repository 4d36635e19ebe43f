//! A trial of the mail account: one mail to itself, one to a clinician, and the answer to it.
//!
//! Never here: printing; what to do about a server that fails (`remedy`).
//! Promises: the steps come in one order; a step that was not tried says so and why; nothing in the
//! mailbox is marked or moved.

use std::time::Duration;

use chrono::TimeDelta;
use tokio::time::Instant as Moment;

use super::remedy::{self, PLUS};
use crate::config::{Clinician, MailIn, MailOut, Server};
use crate::follow_up::Instant;
use crate::notice::{self, Desk};
use crate::post::inbox::{Newcomer, Onlooker};
use crate::post::message::{Draft, compose};
use crate::post::{Address, Mailbox, Outage, Outcome, Outlet};
use crate::reply::letter::{self, Delivery, Kind, Letter};
use crate::service::{Clock, Office, lines};

/// One thing that is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The password can be had and the settings can be used.
    Settings,
    /// The mailbox can be read.
    Mailbox,
    /// Mail goes out.
    Sending,
    /// A mail to an address with a token comes into the mailbox, with the token.
    PlusAddress,
    /// This machine and the mail server agree about the time.
    Clock,
    /// A mail to a clinician goes out.
    Clinician,
    /// The clinician's answer comes back, with its token.
    Answer,
}

/// How a step ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// It works.
    Works,
    /// It does not.
    Fails,
    /// It was not tried, since something before it does not work.
    NotTried,
}

/// What was found at one step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// Which step.
    pub step: Step,
    /// How it ended.
    pub ending: Ending,
    /// What was found.
    pub fact: String,
    /// What to do, where it does not work.
    pub remedy: Option<String>,
}

/// How long is waited.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// For the mail to itself.
    pub own: Duration,
    /// For the clinician's answer.
    pub answer: Duration,
}

/// The clocks of mail servers are kept within a second as a rule; a mail may lie a while.
const CLOCK_APART_MAX: TimeDelta = TimeDelta::seconds(90);

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

/// A mail that went out.
struct Sent {
    message_id: String,
    answer_to: Address,
    at: Instant,
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

    async fn send_own(&mut self, outlet: &Outlet) -> Option<Sent> {
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

    async fn send_to(&mut self, outlet: &Outlet, clinician: &Clinician) -> Option<Sent> {
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

    async fn send(
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

    async fn await_own(&mut self, onlooker: &mut Onlooker, sent: &Sent, patience: Duration) {
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

    async fn await_answer(&mut self, onlooker: &mut Onlooker, sent: &Sent, patience: Duration) {
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

impl Step {
    /// All steps, in order.
    pub const ALL: [Self; 7] = [
        Self::Settings,
        Self::Mailbox,
        Self::Sending,
        Self::PlusAddress,
        Self::Clock,
        Self::Clinician,
        Self::Answer,
    ];

    /// The step in a word or two.
    pub fn name(self) -> &'static str {
        match self {
            Self::Settings => "settings",
            Self::Mailbox => "mailbox",
            Self::Sending => "mail out",
            Self::PlusAddress => "plus address",
            Self::Clock => "clock",
            Self::Clinician => "trial mail",
            Self::Answer => "answer",
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
