//! The mail that each person would get in a rehearsal: written, never sent.
//!
//! Never here: sending; wording.
//! Promises: the notices are the service's own; people are called by their references, the clinic is
//! invented.

use std::collections::BTreeMap;

use super::run::Turn;
use crate::care::{ClinicianId, ContactId};
use crate::config::Scenario;
use crate::follow_up::{Entry, Occasion};
use crate::notice::{self, Backdrop, Draft, Languages, Notice, Recipient, Said, Setting};

/// Where answers would go.
const ANSWER_TO: &str = "checks+paper@clinic.example";

/// Everything that writing needs.
pub(super) struct PaperPost<'s> {
    scenario: &'s Scenario,
    languages: Languages,
    clinic: notice::Clinic,
    client: notice::Client,
    contacts: BTreeMap<ContactId, notice::Person>,
    clinicians: BTreeMap<ClinicianId, notice::Person>,
}

/// A mail that somebody would get.
#[derive(Clone, Debug)]
pub(super) struct PaperMail {
    pub(super) to: String,
    pub(super) notice: Notice,
}

impl<'s> PaperPost<'s> {
    pub(super) fn new(scenario: &'s Scenario) -> Self {
        let person = |id: &str| notice::Person::new(id, "en");
        let reference = scenario.client.reference.clone();
        Self {
            scenario,
            languages: Languages::shipped(),
            clinic: notice::Clinic {
                name: "Riverside Seating Clinic (invented)".to_owned(),
                phone: "01632 960 123, Monday to Friday 9:00 to 17:00".to_owned(),
                out_of_hours: "Keep off the seat.".to_owned(),
            },
            client: notice::Client::new(reference.clone(), reference.as_str()),
            contacts: scenario
                .contacts
                .iter()
                .map(|id| (id.clone(), person(id.as_str())))
                .collect(),
            clinicians: scenario.cover.iter().map(|id| (id.clone(), person(id.as_str()))).collect(),
        }
    }

    pub(super) fn languages(&self) -> &Languages {
        &self.languages
    }

    /// The mails that an entry of a turn calls for; `stop` is the entry with which sitting was last
    /// stopped.
    pub(super) fn about(
        &self,
        turn: &Turn<'_>,
        entry: &Entry,
        stop: Option<&Entry>,
    ) -> Vec<PaperMail> {
        let said = turn.words.map(|words| Said { who: None, at: turn.at, words });
        let backdrop = Backdrop { said, stop, ..Backdrop::default() };
        let plan = &self.scenario.plan;
        let drafts = notice::for_event(entry, turn.state, plan, &self.setting(), &backdrop);
        drafts.into_iter().map(|(to, draft)| self.addressed(&to, &draft)).collect()
    }

    /// The confirmation of a contact's reply, where one is sent.
    pub(super) fn confirming(&self, turn: &Turn<'_>) -> Option<PaperMail> {
        let Occasion::Reply { by, verdict, .. } = turn.occasion else { return None };
        let (plan, setting) = (&self.scenario.plan, self.setting());
        let (to, draft) =
            notice::for_reply(turn.at, by, verdict, turn.entries, turn.state, plan, &setting)?;
        Some(self.addressed(&to, &draft))
    }

    fn setting(&self) -> Setting<'_> {
        Setting {
            languages: &self.languages,
            clinic: &self.clinic,
            client: &self.client,
            contacts: &self.contacts,
            clinicians: &self.clinicians,
        }
    }

    fn addressed(&self, to: &Recipient, draft: &Draft) -> PaperMail {
        let to = match to {
            Recipient::Contact(id) => id.to_string(),
            Recipient::Clinician(id) => id.to_string(),
            Recipient::OnCover => self.scenario.cover[0].to_string(),
        };
        PaperMail { to, notice: draft.addressed(ANSWER_TO) }
    }
}
