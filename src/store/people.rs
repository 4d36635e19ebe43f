//! Names and addresses: of a follow-up's contacts, of the clinic's staff, and what a client is
//! called.
//!
//! Never here: anything clinical; this is the only table with personal data beside kept mails.
//! Promises: a person is known by the reference that the journal uses; addresses are compared
//! without regard to case.

use std::fmt;

use super::database::{self, OptionalExtension, Row, params};
use super::error::{Doing, StoreError};
use super::ids::FollowUpId;
use super::view::{Tx, View};
use crate::care::{ClinicianId, ContactId};

/// A person, or the clinic itself, by reference.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PersonRef {
    /// A contact of the follow-up that is spoken of.
    Contact(ContactId),
    /// A clinician.
    Clinician(ClinicianId),
    /// The clinic's own address: daily messages, and mail from nobody known.
    Clinic,
}

/// What is kept of a person.
#[derive(Clone, PartialEq, Eq)]
pub struct Person {
    /// The name that mail begins with.
    pub name: String,
    /// The mail address.
    pub mail: String,
    /// The language tag that mail is written in.
    pub language: String,
}

/// Says nothing of the person, so that no log or panic does.
impl fmt::Debug for Person {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Person(…)")
    }
}

impl PersonRef {
    pub(super) fn kind(&self) -> &'static str {
        match self {
            Self::Contact(_) => "contact",
            Self::Clinician(_) => "clinician",
            Self::Clinic => "clinic",
        }
    }

    pub(super) fn reference(&self) -> Option<&str> {
        match self {
            Self::Contact(id) => Some(id.as_str()),
            Self::Clinician(id) => Some(id.as_str()),
            Self::Clinic => None,
        }
    }

    /// Reads what `kind` and `reference` wrote.
    pub(super) fn kept(kind: &str, reference: Option<&str>) -> Result<Self, StoreError> {
        let kept = match (kind, reference) {
            ("contact", Some(text)) => ContactId::new(text).ok().map(Self::Contact),
            ("clinician", Some(text)) => ClinicianId::new(text).ok().map(Self::Clinician),
            ("clinic", None) => Some(Self::Clinic),
            _ => None,
        };
        kept.ok_or_else(|| StoreError::unreadable("a reference to a person of kind", kind))
    }
}

impl Tx<'_> {
    /// Keeps or renews what is known of a contact.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn put_contact(
        &mut self,
        follow_up: FollowUpId,
        contact: &ContactId,
        person: &Person,
    ) -> Result<(), StoreError> {
        self.put_person(Some(follow_up), &PersonRef::Contact(contact.clone()), person)
    }

    /// Keeps or renews what is known of a clinician.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn put_clinician(
        &mut self,
        clinician: &ClinicianId,
        person: &Person,
    ) -> Result<(), StoreError> {
        self.put_person(None, &PersonRef::Clinician(clinician.clone()), person)
    }

    /// Keeps what a client is called.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn put_call_name(
        &mut self,
        follow_up: FollowUpId,
        call_name: &str,
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO client_person (follow_up, call_name) VALUES (?1, ?2)
                 ON CONFLICT (follow_up) DO UPDATE SET call_name = excluded.call_name",
            )
            .and_then(|mut put| put.execute(params![follow_up.number(), call_name]))
            .map(|_| ())
            .doing("keeping what a client is called")
    }

    fn put_person(
        &mut self,
        follow_up: Option<FollowUpId>,
        who: &PersonRef,
        person: &Person,
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO person (follow_up, kind, ref, name, mail, mail_key, language)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
                 ON CONFLICT (ifnull(follow_up, 0), kind, ref) DO UPDATE SET
                   name = excluded.name, mail = excluded.mail, mail_key = excluded.mail_key,
                   language = excluded.language",
            )
            .and_then(|mut put| {
                put.execute(params![
                    follow_up.map(FollowUpId::number),
                    who.kind(),
                    who.reference(),
                    person.name,
                    person.mail,
                    key(&person.mail),
                    person.language,
                ])
            })
            .map(|_| ())
            .doing("keeping a person")
    }
}

impl View<'_> {
    /// What is known of a contact; none where it was erased or never kept.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn contact(
        &self,
        follow_up: FollowUpId,
        contact: &ContactId,
    ) -> Result<Option<Person>, StoreError> {
        self.person(Some(follow_up), &PersonRef::Contact(contact.clone()))
    }

    /// The contacts of a follow-up of whom something is known, asked or not, by reference.
    ///
    /// # Errors
    /// When the database refuses, or holds a reference that nothing can have written.
    pub fn contacts_on_file(&self, follow_up: FollowUpId) -> Result<Vec<ContactId>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT ref FROM person WHERE follow_up = ?1 AND kind = 'contact' ORDER BY ref",
            )
            .and_then(|mut select| {
                select.query_all::<String>([follow_up.number()], |row| row.get(0))
            })
            .doing("reading the contacts of a follow-up")?
            .into_iter()
            .map(|text| {
                ContactId::new(&text).map_err(|_| StoreError::unreadable("a contact", &text))
            })
            .collect()
    }

    /// What is known of a clinician.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn clinician(&self, clinician: &ClinicianId) -> Result<Option<Person>, StoreError> {
        self.person(None, &PersonRef::Clinician(clinician.clone()))
    }

    /// What a client is called.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn call_name(&self, follow_up: FollowUpId) -> Result<Option<String>, StoreError> {
        self.connection
            .prepare_cached("SELECT call_name FROM client_person WHERE follow_up = ?1")
            .and_then(|mut select| {
                select.query_one([follow_up.number()], |row| row.get(0)).optional()
            })
            .doing("reading what a client is called")
    }

    /// Everyone who has a mail address: staff first, then contacts with their follow-up, newest
    /// follow-up first.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn people_with_mail(
        &self,
        mail: &str,
    ) -> Result<Vec<(Option<FollowUpId>, PersonRef)>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT follow_up, kind, ref FROM person WHERE mail_key = ?1
                 ORDER BY follow_up IS NOT NULL, follow_up DESC, ref",
            )
            .and_then(|mut select| {
                select.query_all::<(Option<i64>, String, Option<String>)>([key(mail)], |row| {
                    Ok((row.get(0)?, row.get(1)?, row.get(2)?))
                })
            })
            .doing("looking a mail address up")?
            .into_iter()
            .map(|(follow_up, kind, reference)| {
                let who = PersonRef::kept(&kind, reference.as_deref())?;
                Ok((follow_up.map(FollowUpId::from_number), who))
            })
            .collect()
    }

    fn person(
        &self,
        follow_up: Option<FollowUpId>,
        who: &PersonRef,
    ) -> Result<Option<Person>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT name, mail, language FROM person
                 WHERE ifnull(follow_up, 0) = ?1 AND kind = ?2 AND ref = ?3",
            )
            .and_then(|mut select| {
                let follow_up = follow_up.map_or(0, FollowUpId::number);
                select.query_one(params![follow_up, who.kind(), who.reference()], fields).optional()
            })
            .doing("reading a person")
    }
}

fn fields(row: &Row<'_>) -> database::Result<Person> {
    Ok(Person { name: row.get(0)?, mail: row.get(1)?, language: row.get(2)? })
}

/// The form in which addresses are compared. Mailbox names may differ by case in theory (RFC 5321
/// section 2.4); in practice people and programs change it freely.
fn key(mail: &str) -> String {
    mail.trim().to_lowercase()
}
