//! Who reads and whom it is about: the few facts about people that notices need.
//!
//! Never here: addresses, tokens, diagnoses.
//! Promises: names are one line without control characters; `Debug` shows none of them.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use super::languages::Languages;
use crate::care::{ClientRef, ClinicianId, ContactId};
use crate::follow_up::{Entry, Instant};

/// Everything around one follow-up that its notices need.
#[derive(Clone, Copy, Debug)]
pub struct Setting<'a> {
    /// The languages at hand.
    pub languages: &'a Languages,
    /// The clinic.
    pub clinic: &'a Clinic,
    /// The client.
    pub client: &'a Client,
    /// The client's contacts.
    pub contacts: &'a BTreeMap<ContactId, Person>,
    /// The clinic's clinicians.
    pub clinicians: &'a BTreeMap<ClinicianId, Person>,
}

/// The clinic, as people know it.
#[derive(Clone, Debug)]
pub struct Clinic {
    /// Its name.
    pub name: String,
    /// Phone and opening hours, in words.
    pub phone: String,
    /// What to do when it is closed, in words.
    pub out_of_hours: String,
}

/// The client, with no more about them than a mail must say.
#[derive(Clone)]
pub struct Client {
    reference: ClientRef,
    call_name: String,
}

/// Somebody who is written to.
#[derive(Clone)]
pub struct Person {
    name: String,
    language: String,
}

/// What the journal and the mailbox know around an event beyond the state. All of it may be
/// missing; a notice then says less.
#[derive(Clone, Debug, Default)]
pub struct Backdrop<'a> {
    /// The entry with which sitting was last stopped.
    pub stop: Option<&'a Entry>,
    /// What somebody wrote that led here.
    pub said: Option<Said<'a>>,
    /// Pictures that go with the mail.
    pub pictures: Vec<Picture>,
    /// The fitting in a few lines, in the reader's language.
    pub fitting: Vec<String>,
    /// What to examine first, in order, in the reader's language.
    pub guide: Vec<String>,
}

/// Words that somebody wrote.
#[derive(Clone, Copy)]
pub struct Said<'a> {
    /// The writer's name, where it is known.
    pub who: Option<&'a str>,
    /// When the words came.
    pub at: Instant,
    /// The words, quotes and signature removed.
    pub words: &'a str,
}

/// A picture that goes with the mail.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture {
    /// The content id under which the mail carries it, without brackets.
    pub content_id: String,
    /// What it shows, for those who do not see it.
    pub described: String,
    /// The picture as PNG.
    pub png: Arc<[u8]>,
}

impl Client {
    /// A client by reference and call name (or initials).
    pub fn new(reference: ClientRef, call_name: &str) -> Self {
        Self { reference, call_name: one_line(call_name) }
    }

    /// The clinic's reference.
    pub fn reference(&self) -> &ClientRef {
        &self.reference
    }

    /// The name that the client is called by.
    pub fn call_name(&self) -> &str {
        &self.call_name
    }
}

impl Person {
    /// A person by name and language tag, such as `en` or `de-AT`.
    pub fn new(name: &str, language: &str) -> Self {
        Self { name: one_line(name), language: language.to_owned() }
    }

    /// The name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The language tag.
    pub fn language(&self) -> &str {
        &self.language
    }
}

impl fmt::Debug for Client {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Client").field("reference", &self.reference).finish_non_exhaustive()
    }
}

impl fmt::Debug for Person {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Person").field("language", &self.language).finish_non_exhaustive()
    }
}

impl fmt::Debug for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Picture").field("content_id", &self.content_id).finish_non_exhaustive()
    }
}

impl fmt::Debug for Said<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Said").field("at", &self.at).finish_non_exhaustive()
    }
}

/// A text on one line, without characters that act instead of showing: a name must neither end a
/// header line nor turn the text around it.
pub(super) fn one_line(text: &str) -> String {
    let shown = text.replace(|c: char| c.is_control() || turns_text(c), " ");
    shown.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Unicode's marks that change the direction of the text after them.
pub(super) fn turns_text(c: char) -> bool {
    matches!(
        c,
        '\u{200E}' | '\u{200F}' | '\u{061C}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}'
    )
}
