//! The people of the demonstration: each reads their own mailbox and answers by mail.
//!
//! Never here: what they say (`script`), how their mail looks (`reply_mail`).
//! Promises: people learn of everything through mail alone, and answer through mail alone.

use std::collections::HashMap;
use std::path::Path;

use chrono::TimeDelta;

use super::error::DemoError;
use super::inbox::{Mail, PersonInbox};
use super::reply_mail::{self, Program, Reply, Writer};
use super::script::{self, Does, Received, Wants};
use super::stage::{Stage, first_day};
use crate::follow_up::{Calendar, Instant};
use crate::post::{Address, MaildirOutlet, Outcome};
use crate::service::lines;

/// Everybody who gets mail.
pub(super) struct Cast {
    people: Vec<Person>,
    calendar: Calendar,
    to_clinic: MaildirOutlet,
}

struct Person {
    writer: Writer,
    inbox: PersonInbox,
    manner: u32,
    had: u32,
    had_today: HashMap<(u32, Wants), u32>,
    planned: Vec<Planned>,
}

/// A reply that somebody is going to write.
struct Planned {
    at: Instant,
    mail: Mail,
    does: Does,
}

impl Cast {
    /// The contacts of all clients, and the clinicians.
    pub(super) fn new(stage: &Stage) -> Result<Self, DemoError> {
        let clinic = &stage.office.clinic;
        let outgoing = match lines::outlet(&clinic.mail.out, "mail.out")?.0 {
            crate::post::Outlet::Maildir(outlet) => outlet,
            crate::post::Outlet::Smtp(_) => {
                unreachable!("the clinic file of the demonstration names a maildir")
            }
        };
        let contacts = stage.clients.iter().flat_map(|client| &client.file.contacts);
        let contacts = contacts.map(|contact| (&contact.name, &contact.mail));
        let clinicians = clinic.clinicians.iter().map(|person| (&person.name, &person.mail));
        let programs = [Program::Desktop, Program::Phone, Program::Web].into_iter().cycle();
        let mut people = Vec::new();
        for (manner, ((name, mail), program)) in (0..).zip(contacts.chain(clinicians).zip(programs))
        {
            let (name, mail) = (name.as_str().to_owned(), mail.as_str().to_owned());
            let folder = outgoing.folder_of(&address(&mail));
            people.push(Person {
                writer: Writer { name, mail, program },
                inbox: PersonInbox { folder },
                manner,
                had: 0,
                had_today: HashMap::new(),
                planned: Vec::new(),
            });
        }
        // The service's mailbox is the one that this outlet makes for the service's address.
        let root = stage.mailbox.parent().unwrap_or(Path::new("."));
        let to_clinic = MaildirOutlet::new(root)?;
        Ok(Self { people, calendar: stage.office.calendar.clone(), to_clinic })
    }

    /// Whether somebody has unread mail.
    pub(super) fn has_unread(&self) -> Result<bool, DemoError> {
        for person in &self.people {
            if person.inbox.has_unread().map_err(|source| refused(person, source))? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// When somebody writes next.
    pub(super) fn next(&self) -> Option<Instant> {
        self.people.iter().flat_map(|person| &person.planned).map(|planned| planned.at).min()
    }

    /// Everybody reads their mail and makes up their mind.
    pub(super) fn read_mail(&mut self, now: Instant) -> Result<(), DemoError> {
        let today = self.calendar.date(now).signed_duration_since(first_day()).num_days() + 1;
        let day = u32::try_from(today).unwrap_or(0);
        for person in &mut self.people {
            let mails = person.inbox.read().map_err(|source| refused(person, source))?;
            for mail in mails {
                person.plan(mail, day, now);
            }
        }
        Ok(())
    }

    /// Everybody whose time has come writes.
    pub(super) async fn write(&mut self, now: Instant) -> Result<(), DemoError> {
        for person in &mut self.people {
            let mut due: Vec<Planned> =
                person.planned.extract_if(.., |planned| planned.at <= now).collect();
            due.sort_by_key(|planned| planned.at);
            for planned in due {
                let Some(reply) = person.reply(&planned, &self.calendar) else { continue };
                let (from, to) = (address(&person.writer.mail), address(&reply.to));
                match self.to_clinic.send(&from, &to, &reply.raw).await {
                    Outcome::Accepted { .. } => {}
                    _ => return Err(DemoError::NotDelivered),
                }
            }
        }
        Ok(())
    }
}

impl Person {
    fn plan(&mut self, mail: Mail, day: u32, now: Instant) {
        let wants = Wants::by_subject(&mail.subject);
        let nth = self.had_today.entry((day, wants)).or_default();
        *nth += 1;
        let received = Received {
            who: &self.writer.mail,
            day,
            wants,
            nth: *nth,
            before: self.had,
            manner: self.manner,
        };
        let (minutes, does) = script::about(&received);
        self.had += 1;
        if does != Does::Nothing {
            self.planned.push(Planned { at: now + TimeDelta::minutes(minutes), mail, does });
        }
    }

    fn reply(&self, planned: &Planned, calendar: &Calendar) -> Option<Reply> {
        let Planned { at, mail, does } = planned;
        match does {
            Does::Writes(words) => {
                Some(reply_mail::in_words(&self.writer, mail, words, *at, calendar))
            }
            Does::Taps(label) => {
                let button = mail.buttons.iter().find(|button| button.label.starts_with(label))?;
                Some(reply_mail::by_tap(&self.writer, mail, button, *at, calendar))
            }
            Does::Nothing => None,
        }
    }
}

fn refused(person: &Person, source: std::io::Error) -> DemoError {
    DemoError::Folder { path: person.inbox.folder.clone(), source }
}

fn address(text: &str) -> Address {
    Address::parse(text).expect("OK because the demonstration's addresses are plain ones")
}
