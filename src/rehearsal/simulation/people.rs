//! Simulated people: what is on the skin, who answers what and when, and in which words.
//!
//! Never here: what the service makes of it.
//! Promises: contacts tell what they saw, except where a fault says otherwise; the truth of a
//! sitting is drawn once and stays.

use chrono::TimeDelta;

use super::cast::Habit;
use super::dice::Dice;
use super::fault::Fault;
use super::ledger::{Cause, Utterance, Writer};
use super::letters::{self, Answered, Letter, Quoted};
use super::phrases::{self, Numbers, Words};
use super::world::{Happening, World};
use crate::care::Reading;
use crate::follow_up::LookId;
use crate::follow_up::event::LookKind;
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

/// What is on the skin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Skin {
    Clear,
    /// A mark that is gone after so many minutes.
    Fades(u32),
    Lasts,
    Alarming,
}

/// Something that somebody is going to write.
struct Saying {
    means: Reading,
    minutes: u32,
    after: TimeDelta,
}

impl World<'_> {
    /// Somebody reads a mail.
    pub(super) fn read(&mut self, notice: &Delivered) {
        let Some(client) = notice.client else { return };
        let habit = self.cast.habits.get(&notice.address).copied().unwrap_or(Habit::Prompt);
        let sayings = match (&notice.person, notice.cause) {
            (PersonRef::Contact(_), Some(cause)) => self.contact_says(client, notice, cause, habit),
            (PersonRef::Clinician(_), Some(Cause::Alerted)) => self.clinician_says(client, habit),
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

    fn contact_says(
        &mut self,
        client: usize,
        notice: &Delivered,
        cause: Cause,
        habit: Habit,
    ) -> Vec<Saying> {
        match (cause, notice.target) {
            (Cause::Announced, RequestTarget::Announcement(_)) => self.on_announcement(habit),
            (
                Cause::AskedFirst(_) | Cause::AskedAgain(_) | Cause::AskedAnew,
                RequestTarget::Look(look),
            ) => self.on_look(client, look, habit),
            (Cause::ToldToStop | Cause::Else, _) if self.dice.people.per_mille(15) => {
                let means = *self.dice.people.pick(&[Reading::Unclear, Reading::Alarming]);
                vec![Saying { means, minutes: 0, after: TimeDelta::minutes(9) }]
            }
            _ => Vec::new(),
        }
    }

    fn on_announcement(&mut self, habit: Habit) -> Vec<Saying> {
        let dice = &mut self.dice.people;
        let after = TimeDelta::minutes(dice.between(1, 12));
        let means = match (habit, dice.below(100)) {
            (Habit::Silent, _) => return Vec::new(),
            (_, 0..35) => Reading::Started,
            (_, 35..40) => Reading::NoSitting,
            (_, 40..42) => Reading::Marked,
            (_, 42..43) => Reading::Alarming,
            _ => return Vec::new(),
        };
        vec![Saying { means, minutes: 0, after }]
    }

    fn on_look(&mut self, client: usize, id: LookId, habit: Habit) -> Vec<Saying> {
        let Some(after) = self.answers_after(habit) else { return Vec::new() };
        let skin = self.skin(client, id);
        let kind = self.ledger.clients[client].look(id).map(|look| look.kind);
        let at_recheck = kind == Some(LookKind::Recheck);
        let dice = &mut self.dice.people;
        let says = |means, minutes, after| Saying { means, minutes, after };
        let (means, minutes, after) = match skin {
            Skin::Clear => (Reading::Clear, 0, after),
            Skin::Fades(minutes) if at_recheck => {
                let means = *dice.pick(&[Reading::Faded, Reading::Faded, Reading::Clear]);
                (means, minutes, after)
            }
            Skin::Fades(minutes) if dice.per_mille(500) => {
                (Reading::Faded, minutes, after.max(TimeDelta::minutes(i64::from(minutes))))
            }
            Skin::Fades(_) => (Reading::Marked, 0, after),
            Skin::Lasts if at_recheck => {
                (*dice.pick(&[Reading::Persisting, Reading::Persisting, Reading::Marked]), 0, after)
            }
            Skin::Lasts => (Reading::Marked, 0, after),
            Skin::Alarming => (Reading::Alarming, 0, after),
        };
        let answer = says(means, minutes, after);
        match dice.below(100) {
            0..4 => {
                let later = after + TimeDelta::minutes(dice.between(5, 90));
                vec![says(Reading::NotLooked, 0, after), says(means, minutes, later)]
            }
            4..7 => vec![says(Reading::Unclear, 0, after)],
            // On second thoughts it was worse.
            7..10 => {
                let later = after + TimeDelta::minutes(dice.between(2, 60));
                let worse = *dice.pick(&[Reading::Marked, Reading::Alarming]);
                vec![answer, says(worse, 0, later)]
            }
            _ => vec![answer],
        }
    }

    fn answers_after(&mut self, habit: Habit) -> Option<TimeDelta> {
        let dice = &mut self.dice.people;
        let minutes = match habit {
            Habit::Prompt => dice.between(1, 9),
            Habit::Slow => dice.between(5, 70),
            Habit::Forgetful if dice.per_mille(450) => return None,
            Habit::Forgetful => dice.between(1, 100),
            Habit::Silent if dice.per_mille(970) => return None,
            Habit::Silent => 30,
        };
        Some(TimeDelta::minutes(minutes))
    }

    fn clinician_says(&mut self, client: usize, habit: Habit) -> Vec<Saying> {
        let dice = &mut self.dice.people;
        let says = |means, after| Saying { means, minutes: 0, after };
        let after = match habit {
            Habit::Prompt => TimeDelta::minutes(dice.between(2, 20)),
            Habit::Slow => TimeDelta::minutes(dice.between(20, 240)),
            Habit::Forgetful if dice.per_mille(500) => return Vec::new(),
            Habit::Forgetful => TimeDelta::minutes(dice.between(2, 400)),
            Habit::Silent if dice.per_mille(800) => return Vec::new(),
            Habit::Silent => TimeDelta::hours(5),
        };
        let decision = match dice.below(100) {
            0..75 => Some(Reading::Resume),
            75..88 => Some(Reading::KeepStopped),
            88..90 => Some(Reading::Close),
            _ => None,
        };
        let acknowledged = self.ledger.clients[client].owed.is_some_and(|owed| owed.acknowledged);
        let dice = &mut self.dice.people;
        let later = after + TimeDelta::minutes(dice.between(30, 2000));
        match decision {
            Some(decision) if acknowledged || dice.per_mille(250) => vec![says(decision, after)],
            Some(decision) if dice.per_mille(600) => {
                vec![says(Reading::Seen, after), says(decision, later)]
            }
            _ => vec![says(Reading::Seen, after)],
        }
    }

    /// The truth about the skin at a look: that of its sitting, or of the mark that a recheck is
    /// about.
    fn skin(&self, client: usize, id: LookId) -> Skin {
        let facts = &self.ledger.clients[client];
        let first = facts.look(id).and_then(|look| look.of).unwrap_or(id);
        let sitting = facts.look(first).and_then(|look| look.sitting);
        let key = match sitting {
            Some(number) => u64::from(number.count()),
            None => 100_000 + u64::from(first.count()),
        };
        let mut dice = Dice::new(self.trial.seed, 1_000_000 * (client as u64 + 1) + key);
        if !dice.per_mille(self.cast.marks_per_mille) {
            return Skin::Clear;
        }
        let limit = i64::from(facts.plan().looks.fade_limit.count());
        match dice.below(10) {
            0..7 => Skin::Fades(u32::try_from(dice.between(3, limit)).unwrap_or(3)),
            7..9 => Skin::Lasts,
            _ => Skin::Alarming,
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
