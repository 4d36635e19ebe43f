//! The words of a calendar file: what its entries are called.
//!
//! Never here: times, the format of the file (`export::calendar`).
//! Promises: clients are named by the clinic's reference only.

use super::languages::Languages;
use super::wording::Wording;
use crate::care::{ClientRef, Minutes};

/// The words in one language, about one client.
#[derive(Clone, Copy, Debug)]
pub struct Agenda<'a> {
    w: &'a Wording,
    client: &'a ClientRef,
}

impl<'a> Agenda<'a> {
    /// The words in a language.
    pub fn new(languages: &'a Languages, language: &str, client: &'a ClientRef) -> Self {
        Self { w: languages.wording(language), client }
    }

    /// The name of a calendar of all clients.
    pub fn name_of_all(languages: &Languages, language: &str) -> String {
        languages.wording(language).agenda_name_all()
    }

    /// The name of a calendar of this client.
    pub fn name(&self) -> String {
        self.w.agenda_name(self.client)
    }

    /// A planned sitting.
    pub fn sitting(&self, sit: Minutes) -> String {
        self.w.agenda_sitting(self.client, &self.w.duration(sit))
    }

    /// A look.
    pub fn look(&self) -> String {
        self.w.agenda_look(self.client)
    }

    /// The second look at a mark.
    pub fn recheck(&self) -> String {
        self.w.agenda_recheck(self.client)
    }

    /// A clinician's review.
    pub fn review(&self, day: u32) -> String {
        self.w.agenda_review(self.client, &day)
    }

    /// What every entry says below.
    pub fn note(&self) -> String {
        self.w.agenda_note()
    }
}
