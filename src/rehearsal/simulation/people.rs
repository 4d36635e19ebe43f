//! Simulated people who write: in which words somebody says what they mean, and how it is sent.
//!
//! Never here: what anybody means (`minds`); what the service makes of it.
//! Promises: contacts tell what they saw, except where a fault says otherwise.

use chrono::TimeDelta;

use super::cast::Habit;
use super::fault::Fault;
use super::ledger::{Cause, Utterance, Writer};
use super::letters::{self, Answered, Letter, Quoted};
use super::minds::{Mind, Saying};
use super::phrases::{self, Numbers, Words};
use super::world::{Happening, World};
use crate::care::Reading;
use crate::store::{PersonRef, RequestTarget};

/// A mail of the service in its reader's hands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Delivered {
    pub(super) answered: Answered,
    pub(super) address: String,
    pub(super) person: PersonRef,
    pub(super) client: Option<usize>,
    pub(super) cause: Option<Cause>,
    pub(super) target: RequestTarget,
    pub(super) raw: Vec<u8>,
    /// How an answer names the client, where the mail is about several.
    pub(super) named: Option<String>,
}

impl World<'_> {
    /// Somebody reads a mail.
    pub(super) fn read(&mut self, notice: &Delivered) {
        let Some(client) = notice.client else { return };
        let habit = self.cast.habits.get(&notice.address).copied().unwrap_or(Habit::Prompt);
        let mut mind = Mind {
            seed: self.trial.seed,
            marks_per_mille: self.cast.marks_per_mille,
            ledger: &self.ledger,
            dice: &mut self.dice.people,
        };
        let sayings = match (&notice.person, notice.cause) {
            (PersonRef::Contact(_), Some(cause)) => {
                mind.contact_says(client, (cause, notice.target), habit)
            }
            (PersonRef::Clinician(_), Some(Cause::Alerted)) => mind.clinician_says(client, habit),
            _ => Vec::new(),
        };
        for saying in sayings {
            self.write(client, notice, &saying);
        }
        if matches!(notice.person, PersonRef::Contact(_)) && self.strikes(Fault::AbsenceNotice, 15)
        {
            self.machine_answers(client, notice);
        }
    }

    /// Somebody writes an answer to a notice, with all that can go wrong on its way.
    fn write(&mut self, client: usize, notice: &Delivered, saying: &Saying) {
        let is_contact = matches!(notice.person, PersonRef::Contact(_));
        let at = self.now + saying.after;
        let mut words = self.words(client, saying, at, &notice.address);
        let mut writer = if is_contact { Writer::Asked } else { Writer::Clinician };
        let mut from = notice.address.clone();
        let mut to = notice.answered.reply_to.clone();
        let mut is_plain = true;
        if is_contact {
            if self.strikes(Fault::ReplyContradicting, 20) {
                words = phrases::contradiction(&mut self.dice.people);
            }
            if self.strikes(Fault::ReplyOverreaching, 8) {
                let numbers = Numbers { minutes: 0, time: "" };
                let means = *self.dice.people.pick(&[Reading::Resume, Reading::Close]);
                words = phrases::words(&mut self.dice.people, "en", means, numbers);
            }
            if self.strikes(Fault::ReplyWrongPerson, 20) {
                if let Some(other) = self.another_contact(client, &from) {
                    (from, writer) = (other, Writer::OnFile);
                }
            } else if self.strikes(Fault::ReplyTokenLost, 20) {
                to = self.without_token(&to);
                writer = self.known_by_address(&from);
            }
        }
        if self.strikes(Fault::ReplyStranger, 10) {
            (from, writer) = ("stranger@elsewhere.example".to_owned(), Writer::Stranger);
        }
        if let Some(name) = &notice.named {
            words.text = format!("{name}: {}", words.text);
        }
        let mut quoted = if self.dice.people.per_mille(300) { Quoted::Marked } else { Quoted::No };
        if self.strikes(Fault::ReplyMisquoted, 30) {
            (quoted, is_plain) = (Quoted::Unmarked, false);
        }
        let original =
            if quoted == Quoted::No { String::new() } else { letters::plain_text(&notice.raw) };
        let number = self.ledger.said.len();
        let letter = Letter {
            number,
            from: &from,
            to: &to,
            answers: Some(&notice.answered),
            at,
            words: &words.text,
            quoted: (quoted, &original),
        };
        let raw = if self.strikes(Fault::ReplyGarbled, 10) {
            (words.means, is_plain) = (Reading::Unclear, false);
            letters::garbled(&mut self.dice.faults, &letter)
        } else {
            letters::reply(&letter)
        };
        self.ledger.said.push(Utterance {
            means: words.means,
            minutes: words.minutes,
            client,
            writer,
            target: notice.target,
            is_plain,
            worked_at: None,
        });
        self.send_letter(raw, at);
    }

    fn send_letter(&mut self, raw: Vec<u8>, at: chrono::DateTime<chrono::Utc>) {
        let mut arrives = at + TimeDelta::seconds(self.dice.people.between(1, 90));
        if self.strikes(Fault::ReplyLate, 25) {
            arrives += TimeDelta::minutes(self.dice.faults.between(60, 2000));
        }
        if self.strikes(Fault::ReplyReordered, 25) {
            arrives += TimeDelta::minutes(self.dice.faults.between(2, 90));
        }
        if self.strikes(Fault::ReplyDoubled, 30) {
            let again = arrives + TimeDelta::minutes(self.dice.faults.between(0, 1500));
            self.at(again, Happening::Post(raw.clone()));
        }
        self.at(arrives, Happening::Post(raw));
    }

    fn words(
        &mut self,
        client: usize,
        saying: &Saying,
        at: chrono::DateTime<chrono::Utc>,
        writer: &str,
    ) -> Words {
        let facts = &self.ledger.clients[client];
        let time = facts.calendar.local(at).format("%H:%M").to_string();
        let contact = facts.file.contacts.iter().find(|contact| contact.mail.as_str() == writer);
        let language = contact.map_or("en", |contact| contact.language.as_str()).to_owned();
        let numbers = Numbers { minutes: saying.minutes, time: &time };
        phrases::words(&mut self.dice.people, &language, saying.means, numbers)
    }

    fn another_contact(&mut self, client: usize, than: &str) -> Option<String> {
        let contacts = &self.ledger.clients[client].file.contacts;
        contacts.iter().map(|c| c.mail.as_str()).find(|mail| *mail != than).map(str::to_owned)
    }

    fn without_token(&mut self, address: &str) -> String {
        let (before, token) = address.split_once('+').unwrap_or((address, ""));
        let domain = token.split_once('@').map_or("clinic.example", |(_, domain)| domain);
        if self.dice.faults.per_mille(500) {
            format!("{before}@{domain}")
        } else {
            format!("{before}+23456789abcdefghijkmnpqrstuvw@{domain}")
        }
    }

    /// Whose contact an address is, where it is one client's only.
    fn known_by_address(&self, from: &str) -> Writer {
        let clients = self.ledger.clients.iter().filter(|client| {
            client.file.contacts.iter().any(|contact| contact.mail.as_str() == from)
        });
        if clients.count() == 1 { Writer::OnFile } else { Writer::Stranger }
    }

    fn machine_answers(&mut self, client: usize, notice: &Delivered) {
        let number = self.ledger.said.len();
        let raw = letters::absence(&Letter {
            number,
            from: &notice.address,
            to: &notice.answered.reply_to,
            answers: Some(&notice.answered),
            at: self.now,
            words: "",
            quoted: (Quoted::No, ""),
        });
        self.ledger.said.push(Utterance {
            means: Reading::Automatic,
            minutes: None,
            client,
            writer: Writer::Machine,
            target: notice.target,
            is_plain: true,
            worked_at: None,
        });
        self.at(self.now + TimeDelta::seconds(5), Happening::Post(raw));
    }
}
