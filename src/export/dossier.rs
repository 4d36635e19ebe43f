//! Everything on file about one client, read at once.
//!
//! Never here: formats.
//! Promises: one view of the store, so that all parts belong together.

use std::sync::Arc;

use crate::care::{ClientRef, ContactId, Plan};
use crate::follow_up::{Instant, State};
use crate::notice::{Agenda, Planned};
use crate::reply::letter;
use crate::service::{Office, round_answers};
use crate::store::{
    FollowUpId, InboxId, JournalLine, KeptFitting, KeptMail, MailRecord, OccasionRecord, Person,
    StoreError, View,
};

/// The file of one client.
#[derive(Clone, Debug)]
pub struct Dossier {
    /// The clinic's reference.
    pub client: ClientRef,
    /// What contacts call the client, unless it was erased.
    pub call_name: Option<String>,
    /// The clinic's name.
    pub clinic: String,
    /// The domain of the clinic's mail, which makes ids of entries its own.
    pub domain: String,
    /// The service's own mail address.
    pub publisher: String,
    /// How the follow-up stands.
    pub state: State,
    /// The plan that it is pinned to.
    pub plan: Arc<Plan>,
    /// Its journal, from the first entry on, each with its occasion.
    pub journal: Vec<(JournalLine, OccasionRecord)>,
    /// The contacts in calling order, each with what is on file.
    pub contacts: Vec<(ContactId, Option<Person>)>,
    /// The fittings, from the first on.
    pub fittings: Vec<KeptFitting>,
    /// What was written to people.
    pub sent: Vec<MailRecord>,
    /// What people wrote: the mail's number, when it came, and its words.
    pub received: Vec<(InboxId, Instant, String)>,
    /// The mails of both ways that are kept still, whole.
    pub mails: Vec<KeptMail>,
    /// When it was read.
    pub now: Instant,
}

impl Dossier {
    /// Reads the file of a client.
    ///
    /// # Errors
    /// When there is no such follow-up, or a part of it cannot be read.
    pub fn read(
        office: &Office,
        view: &View<'_>,
        follow_up: FollowUpId,
        now: Instant,
    ) -> Result<Self, StoreError> {
        let loaded = view.load(follow_up)?;
        let plan = office.plan(view, &loaded.plan)?;
        let mut journal: Vec<(JournalLine, OccasionRecord)> = Vec::new();
        for line in view.journal_of(follow_up)? {
            let occasion = match journal.last() {
                Some((before, occasion)) if before.occasion == line.occasion => occasion.clone(),
                _ => view.occasion(line.occasion)?,
            };
            journal.push((line, occasion));
        }
        let mut contacts = Vec::new();
        for contact in &loaded.state.terms.contacts {
            contacts.push((contact.clone(), view.contact(follow_up, contact)?));
        }
        let mut received = Vec::new();
        let mut answered: Vec<(InboxId, &OccasionRecord)> = journal
            .iter()
            .filter_map(|(_, occasion)| Some((occasion.inbox()?, occasion)))
            .collect();
        answered.dedup_by_key(|(inbox, _)| *inbox);
        for (inbox, occasion) in answered {
            let came_at = view.received(inbox)?.received_at;
            if let Some(raw) = view.raw_received(inbox)? {
                let letter = letter::open(&raw);
                let words = round_answers::words_about(office, view, occasion, &letter)?;
                received.push((inbox, came_at, words));
            }
        }
        let mut sent = view.newest_mails(u32::MAX)?;
        sent.retain(|mail| mail.follow_up == Some(follow_up));
        sent.reverse();
        Ok(Self {
            client: loaded.client,
            call_name: view.call_name(follow_up)?,
            clinic: office.clinic.name.clone(),
            domain: office.from.address.domain().to_owned(),
            publisher: office.from.address.as_str().to_owned(),
            state: loaded.state,
            plan,
            journal,
            contacts,
            fittings: view.fittings(follow_up)?,
            sent,
            received,
            mails: view.kept_mails(follow_up)?,
            now,
        })
    }

    /// What is planned for the client in the next days, today included, for a calendar.
    pub fn planned<'a>(&'a self, agenda: Agenda<'a>, days: u32) -> Planned<'a> {
        Planned {
            client: &self.client,
            state: &self.state,
            plan: &self.plan,
            journal: self.journal.iter().map(|(line, _)| &line.entry.event).collect(),
            agenda,
            publisher: &self.publisher,
            days,
            now: self.now,
        }
    }

    /// A time as the client's clock shows it, with its offset.
    pub(super) fn stamp(&self, at: Instant) -> String {
        let local = self.state.terms.zone.local(at);
        local.to_rfc3339_opts(chrono::SecondsFormat::Secs, true)
    }
}
