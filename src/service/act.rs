//! One act: an occasion, the core's decision, the journal, the mail — in the caller's transaction.
//!
//! Never here: what to do (the core decides), waiting, sending.
//! Promises: entries, due time and mail are written together; requests that are no longer wanted
//! do not leave the queue any more.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::composing::Scribe;
use super::covering;
use super::due::LATE_MAX;
use super::error::ServiceError;
use super::mailing::{self, Slip};
use super::office::Office;
use super::picturing::Pictured;
use super::reviewing::review_lines;
use super::rounds::Gathering;
use crate::care::{ContactId, Plan, Verdict};
use crate::follow_up::event::Entry;
use crate::follow_up::{Event, Instant, Occasion, State};
use crate::notice::{self, Backdrop, Recipient, Setting};
use crate::store::{
    Appended, Change, FollowUpId, Loaded, OccasionRecord, Person, PersonRef, RequestTarget,
    StoreError, Tx, Urgency, View,
};

/// What an act led to.
#[derive(Debug)]
pub struct Acted {
    /// What happened, in order.
    pub entries: Vec<Entry>,
    /// The state afterwards.
    pub state: Arc<State>,
    /// When something is due next.
    pub next_due: Option<Instant>,
}

/// An act to be done.
#[derive(Debug)]
pub struct Act<'a> {
    /// What happens.
    pub occasion: &'a Occasion,
    /// What made it happen, for the record: a kind and references.
    pub kind: &'a str,
    /// The references behind it.
    pub detail: serde_json::Value,
    /// When. It counts as done no earlier than the last entry of the journal, whose order stands.
    pub at: Instant,
    /// The words that led here, shown to the clinic where a notice quotes them.
    pub words: Option<&'a str>,
}

/// Does an act on one follow-up. Whatever becomes due at once by it is done too, unless the
/// follow-up has waited since before: that is for `waking` or the next act on what is due.
///
/// # Errors
/// When the store refuses, or a mail cannot be composed; then nothing has happened.
pub fn act(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    act: &Act<'_>,
) -> Result<Acted, ServiceError> {
    let loaded = office.load(tx, follow_up)?;
    let plan = office.plan(tx, &loaded.plan)?;
    act_on(office, tx, loaded, &plan, act, Shares::default())
}

/// What an act may share with others of its transaction.
#[derive(Clone, Copy, Debug, Default)]
pub struct Shares<'a> {
    /// Who composes its mail beside the writer.
    pub scribe: Option<&'a Scribe>,
    /// Where its mail is gathered that may go together with others'.
    pub gathering: Option<&'a Gathering>,
}

/// As `act`, on a follow-up that the caller has loaded, with what it shares with other acts.
///
/// # Errors
/// As `act`.
pub fn act_on(
    office: &Office,
    tx: &mut Tx<'_>,
    mut loaded: Loaded,
    plan: &Arc<Plan>,
    act: &Act<'_>,
    shares: Shares<'_>,
) -> Result<Acted, ServiceError> {
    let follow_up = loaded.follow_up;
    let at = at_in_order(tx, follow_up, act)?;
    let act = &Act { at, detail: act.detail.clone(), ..*act };
    let state = &mut loaded.state;
    let cover = covering::cover(office, tx, state, act.at)?;
    let basis = crate::follow_up::Basis { plan, cover: &cover };
    // What came due while the service was away is asked by `waking`, once (R26): a command that
    // is used meanwhile, or a reply that waited, does not play it all through.
    let behind = state.next_due(&basis).is_some_and(|due| act.at - due > LATE_MAX);
    let contacts_before = state.terms.contacts.clone();
    let mut entries = state.advance(basis, act.occasion, act.at);
    if *act.occasion != Occasion::Clock && !behind {
        entries.extend(state.advance(basis, &Occasion::Clock, act.at));
    }
    let state = &loaded.state;
    let next_due = state.next_due(&basis);
    let record = OccasionRecord {
        follow_up: Some(follow_up),
        kind: act.kind.to_owned(),
        at: act.at,
        detail: act.detail.clone(),
    };
    let change = loaded.change(&record, &entries, state, next_due);
    let desk = Desk::open(office, tx, &loaded, (&contacts_before, plan), shares)?;
    // Before anything is written: where pictures are missing, the act is done anew.
    let pictures = desk.pictures(tx, &change, (plan, state, &entries))?;
    let kept = tx.add_occasion(&record)?;
    let appended = tx.append(&change, kept)?;
    for (index, (entry, pictures)) in entries.iter().zip(pictures).enumerate() {
        desk.withdraw_stale(tx, entry, state)?;
        desk.write(tx, act, (entry, pictures), state, appended.seq(index))?;
    }
    desk.confirm(tx, act, (&entries, appended), state)?;
    drop(desk);
    loaded.state.note_past_kept();
    let state = Arc::new(loaded.state);
    office.states.lay_down(follow_up, change.head_after(&appended), Arc::clone(&state));
    Ok(Acted { entries, state, next_due })
}

/// When an act counts as done: at its time, but never before the last entry of the journal. Only
/// a clock that was set back begins anew at what it shows.
fn at_in_order(
    view: &View<'_>,
    follow_up: FollowUpId,
    act: &Act<'_>,
) -> Result<Instant, StoreError> {
    if matches!(act.occasion, Occasion::ClockSetBack { .. }) {
        return Ok(act.at);
    }
    let last = view.last_entry_at(follow_up)?;
    Ok(last.map_or(act.at, |last| last.max(act.at)))
}

/// The desk at which mail about one follow-up is written.
struct Desk<'a> {
    office: &'a Office,
    follow_up: FollowUpId,
    plan: &'a Plan,
    client: notice::Client,
    people: BTreeMap<ContactId, Person>,
    contacts: BTreeMap<ContactId, notice::Person>,
    shares: Shares<'a>,
}

impl<'a> Desk<'a> {
    fn open(
        office: &'a Office,
        view: &View<'_>,
        loaded: &Loaded,
        (contacts_before, plan): (&[ContactId], &'a Plan),
        shares: Shares<'a>,
    ) -> Result<Self, StoreError> {
        let follow_up = loaded.follow_up;
        let call_name = view.call_name(follow_up)?.unwrap_or_default();
        let mut people = BTreeMap::new();
        // Whoever was just added may be asked at once.
        for contact in contacts_before.iter().chain(&loaded.state.terms.contacts) {
            if let Some(person) = view.contact(follow_up, contact)? {
                people.insert(contact.clone(), person);
            }
        }
        let contacts = people
            .iter()
            .map(|(id, person)| (id.clone(), notice::Person::new(&person.name, &person.language)))
            .collect();
        let client = notice::Client::new(loaded.client.clone(), &call_name);
        Ok(Self { office, follow_up, plan, client, people, contacts, shares })
    }

    fn setting(&self) -> Setting<'_> {
        Setting {
            languages: &self.office.languages,
            clinic: &self.office.about,
            client: &self.client,
            contacts: &self.contacts,
            clinicians: &self.office.clinicians,
        }
    }

    /// Requests about a look that is settled, or about anything once sitting is stopped, are not
    /// sent any more if they still wait in the queue.
    fn withdraw_stale(
        &self,
        tx: &mut Tx<'_>,
        entry: &Entry,
        state: &State,
    ) -> Result<(), StoreError> {
        let stale: Vec<RequestTarget> = match &entry.event {
            Event::LookWithdrawn { look, .. }
            | Event::Found { look, .. }
            | Event::Missed { look, .. } => vec![RequestTarget::Look(*look)],
            Event::Stopped { .. } | Event::Closed { .. } => state
                .looks()
                .filter(|look| look.settled_at == Some(entry.at))
                .map(|look| RequestTarget::Look(look.id))
                .collect(),
            Event::Acknowledged { .. } => {
                state.alert.iter().map(|alert| RequestTarget::Alert(alert.id)).collect()
            }
            _ => Vec::new(),
        };
        for target in stale {
            tx.withdraw_mail(self.follow_up, target, entry.at)?;
        }
        Ok(())
    }

    fn write(
        &self,
        tx: &mut Tx<'_>,
        act: &Act<'_>,
        (entry, pictures): (&Entry, Vec<notice::Picture>),
        state: &State,
        cause: Option<crate::store::JournalSeq>,
    ) -> Result<(), ServiceError> {
        let review = review_lines(self.office, tx, self.follow_up, &entry.event, state);
        let backdrop = Backdrop {
            said: act.words.map(|words| notice::Said { who: None, at: act.at, words }),
            fitting: review.fitting,
            guide: review.guide,
            pictures,
            ..Backdrop::default()
        };
        let notices = notice::for_event(entry, state, self.plan, &self.setting(), &backdrop);
        let (target, urgency) = mailing::target_of(&entry.event, state);
        for (recipient, draft) in notices {
            self.post(tx, &recipient, draft, (target, urgency, cause, entry.at), state)?;
        }
        Ok(())
    }

    fn pictures(
        &self,
        view: &View<'_>,
        change: &Change,
        (plan, state, entries): (&Arc<Plan>, &State, &[Entry]),
    ) -> Result<Vec<Vec<notice::Picture>>, ServiceError> {
        let language_of = |id: &ContactId| {
            self.people.get(id).map_or_else(String::new, |person| person.language.clone())
        };
        let (office, language_of) = (self.office, &language_of);
        Pictured { office, view, change, plan, state, entries, language_of }.pictures()
    }

    /// Confirms a contact's reply to the one who wrote it.
    fn confirm(
        &self,
        tx: &mut Tx<'_>,
        act: &Act<'_>,
        (entries, appended): (&[Entry], Appended),
        state: &State,
    ) -> Result<(), ServiceError> {
        let Occasion::Reply { by, verdict, .. } = act.occasion else { return Ok(()) };
        let Some((recipient, draft)) = self.confirmation(act.at, by, verdict, entries, state)
        else {
            return Ok(());
        };
        // An answer to the confirmation is about the look that was answered, and the confirmation
        // is traced to that entry.
        let about = entries.iter().enumerate().find_map(|(index, entry)| match &entry.event {
            Event::Answered { look, .. } => Some((RequestTarget::Look(*look), index)),
            Event::Started { sitting, .. } => Some((RequestTarget::Announcement(*sitting), index)),
            _ => None,
        });
        let (target, index) = about.unwrap_or((RequestTarget::Other, 0));
        let cause = appended.seq(index);
        self.post(tx, &recipient, draft, (target, Urgency::Recheck, cause, act.at), state)
    }

    fn confirmation(
        &self,
        at: Instant,
        by: &ContactId,
        verdict: &Verdict,
        entries: &[Entry],
        state: &State,
    ) -> Option<(Recipient, notice::Draft)> {
        notice::for_reply(at, by, verdict, entries, state, self.plan, &self.setting())
    }

    fn post(
        &self,
        tx: &mut Tx<'_>,
        recipient: &Recipient,
        draft: notice::Draft,
        (target, urgency, cause, now): (
            RequestTarget,
            Urgency,
            Option<crate::store::JournalSeq>,
            Instant,
        ),
        state: &State,
    ) -> Result<(), ServiceError> {
        let (person, to) = match recipient {
            Recipient::Contact(id) => {
                (PersonRef::Contact(id.clone()), self.people.get(id).cloned())
            }
            Recipient::Clinician(id) => {
                (PersonRef::Clinician(id.clone()), clinician(self.office, id))
            }
            Recipient::OnCover => {
                let cover = covering::cover(self.office, tx, state, now)?;
                let id =
                    cover.first().expect("OK because a clinic file names at least one on cover");
                (PersonRef::Clinician(id.clone()), clinician(self.office, id))
            }
        };
        // A person whose address was erased cannot be written to; the journal still says that
        // they would have been.
        let Some(to) = to else { return Ok(()) };
        let follow_up = Some(self.follow_up);
        let slip = Slip { follow_up, cause, person, target, urgency, now };
        let Shares { scribe, gathering } = self.shares;
        let draft = Arc::new(draft);
        let posted = mailing::post(self.office, tx, &slip, &to, Arc::clone(&draft), scribe)?;
        if let Some(gathering) = gathering {
            gathering.gather((&slip, &to, &self.client), &draft, &posted);
        }
        Ok(())
    }
}

/// A clinician as mail knows them.
pub(super) fn clinician(office: &Office, id: &crate::care::ClinicianId) -> Option<Person> {
    office.clinic.clinician(id).map(|clinician| Person {
        name: clinician.name.as_str().to_owned(),
        mail: clinician.mail.as_str().to_owned(),
        language: clinician.language.as_str().to_owned(),
    })
}
