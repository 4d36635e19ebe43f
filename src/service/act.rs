//! One act: an occasion, the core's decision, the journal, the mail — in the caller's transaction.
//!
//! Never here: what to do (the core decides), waiting, sending.
//! Promises: entries, due time and mail are written together; requests that are no longer wanted
//! do not leave the queue any more.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::covering;
use super::due::LATE_MAX;
use super::error::ServiceError;
use super::mailing::{self, Letter, Slip};
use super::office::Office;
use super::picturing::Pictured;
use super::reviewing::review_lines;
use super::rounds::Gathering;
use crate::care::{ContactId, Plan};
use crate::follow_up::event::Entry;
use crate::follow_up::{Event, Instant, Occasion, State};
use crate::notice::{self, Backdrop, Recipient, Setting};
use crate::store::{
    Change, FollowUpId, Loaded, OccasionRecord, Person, PersonRef, RequestTarget, StoreError, Tx,
    Urgency, View,
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
    act_on(office, tx, loaded, &plan, act, None)
}

/// As `act`, on a follow-up that the caller has loaded, with what its mail is gathered in that may go
/// together with others'.
///
/// # Errors
/// As `act`.
pub fn act_on(
    office: &Office,
    tx: &mut Tx<'_>,
    loaded: Loaded,
    plan: &Arc<Plan>,
    act: &Act<'_>,
    gathering: Option<&Gathering>,
) -> Result<Acted, ServiceError> {
    let worked_out = work_out(office, tx, loaded, plan, act)?;
    worked_out.write_down(office, tx, gathering)
}

/// An act that is worked out to the last byte of its mail and is still to be written down. Working it
/// out needs no transaction for writing, so that it can be done beside the writer.
#[derive(Debug)]
pub(super) struct WorkedOut {
    /// The follow-up as it was loaded, with the state that the act leads to.
    loaded: Loaded,
    client: notice::Client,
    record: OccasionRecord,
    change: Change,
    entries: Vec<Entry>,
    /// What each entry leads to.
    sequels: Vec<Sequel>,
    /// The confirmation of a reply, with the place of the entry that it is about.
    confirmation: Option<(usize, Letter)>,
    next_due: Option<Instant>,
}

/// What an entry leads to beside the journal.
#[derive(Debug)]
struct Sequel {
    /// Requests whose mail is not sent any more if it still waits in the queue.
    stale: Vec<RequestTarget>,
    letters: Vec<Letter>,
}

/// Works an act out, from what the store says at this moment.
///
/// # Errors
/// When the store cannot be read, a mail cannot be composed, or pictures are still to be drawn.
pub(super) fn work_out(
    office: &Office,
    view: &View<'_>,
    mut loaded: Loaded,
    plan: &Arc<Plan>,
    act: &Act<'_>,
) -> Result<WorkedOut, ServiceError> {
    let follow_up = loaded.follow_up;
    let at = at_in_order(view, follow_up, act)?;
    let act = &Act { at, detail: act.detail.clone(), ..*act };
    let state = &mut loaded.state;
    let cover = covering::cover(office, view, state, act.at)?;
    let basis = crate::follow_up::Basis { plan, cover: &cover };
    // What came due while the service was away is asked by `waking`, once (R26): a command that
    // is used meanwhile, or a reply that waited, does not play it all through.
    let is_clock = *act.occasion == Occasion::Clock;
    let behind = !is_clock && state.next_due(&basis).is_some_and(|due| act.at - due > LATE_MAX);
    let contacts_before = state.terms.contacts.clone();
    let mut entries = state.advance(basis, act.occasion, act.at);
    if !is_clock && !behind {
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
    let desk = Desk::open(office, view, &loaded, (&contacts_before, plan))?;
    // First of all that is said: where pictures are missing, the act is worked out anew.
    let pictures = desk.pictures(&change, (plan, state, &entries))?;
    let mut sequels = Vec::with_capacity(entries.len());
    for (entry, pictures) in entries.iter().zip(pictures) {
        let letters = desk.letters(act, (entry, pictures), state)?;
        sequels.push(Sequel { stale: stale_by(entry, state), letters });
    }
    let confirmation = desk.confirmation(act, &entries, state)?;
    let Desk { client, .. } = desk;
    Ok(WorkedOut { loaded, client, record, change, entries, sequels, confirmation, next_due })
}

impl WorkedOut {
    /// Writes it down: entries, due time and mail together.
    ///
    /// # Errors
    /// When the store refuses, or the follow-up has moved on since; then the transaction must not be
    /// committed.
    pub(super) fn write_down(
        self,
        office: &Office,
        tx: &mut Tx<'_>,
        gathering: Option<&Gathering>,
    ) -> Result<Acted, ServiceError> {
        let Self { mut loaded, client, record, change, entries, sequels, confirmation, next_due } =
            self;
        let follow_up = loaded.follow_up;
        let kept = tx.add_occasion(&record)?;
        let appended = tx.append(&change, kept)?;
        let put = |tx: &mut Tx<'_>, letter: Letter, entry: usize| -> Result<(), ServiceError> {
            let posted = letter.put(tx, appended.seq(entry))?;
            if let Some(gathering) = gathering {
                gathering.gather(posted, &client);
            }
            Ok(())
        };
        for (index, (entry, Sequel { stale, letters })) in entries.iter().zip(sequels).enumerate() {
            for target in stale {
                tx.withdraw_mail(follow_up, target, entry.at)?;
            }
            for letter in letters {
                put(tx, letter, index)?;
            }
        }
        if let Some((index, letter)) = confirmation {
            put(tx, letter, index)?;
        }
        loaded.state.note_past_kept();
        let state = Arc::new(loaded.state);
        office.states.lay_down(follow_up, change.head_after(&appended), Arc::clone(&state));
        Ok(Acted { entries, state, next_due })
    }
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

/// Requests about a look that is settled, or about anything once sitting is stopped, are not sent any
/// more if they still wait in the queue.
fn stale_by(entry: &Entry, state: &State) -> Vec<RequestTarget> {
    match &entry.event {
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
    }
}

/// The desk at which mail about one follow-up is written.
struct Desk<'a> {
    office: &'a Office,
    view: &'a View<'a>,
    follow_up: FollowUpId,
    plan: &'a Plan,
    client: notice::Client,
    people: BTreeMap<ContactId, Person>,
    contacts: BTreeMap<ContactId, notice::Person>,
}

impl<'a> Desk<'a> {
    fn open(
        office: &'a Office,
        view: &'a View<'a>,
        loaded: &Loaded,
        (contacts_before, plan): (&[ContactId], &'a Plan),
    ) -> Result<Self, StoreError> {
        let follow_up = loaded.follow_up;
        let call_name = view.call_name(follow_up)?.unwrap_or_default();
        let mut people = BTreeMap::new();
        // Whoever was just added may be asked at once.
        for contact in contacts_before.iter().chain(&loaded.state.terms.contacts) {
            if !people.contains_key(contact)
                && let Some(person) = view.contact(follow_up, contact)?
            {
                people.insert(contact.clone(), person);
            }
        }
        let contacts = people
            .iter()
            .map(|(id, person)| (id.clone(), notice::Person::new(&person.name, &person.language)))
            .collect();
        let client = notice::Client::new(loaded.client.clone(), &call_name);
        Ok(Self { office, view, follow_up, plan, client, people, contacts })
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

    fn pictures(
        &self,
        change: &Change,
        (plan, state, entries): (&Arc<Plan>, &State, &[Entry]),
    ) -> Result<Vec<Vec<notice::Picture>>, ServiceError> {
        let language_of = |id: &ContactId| {
            self.people.get(id).map_or_else(String::new, |person| person.language.clone())
        };
        let (office, view, language_of) = (self.office, self.view, &language_of);
        Pictured { office, view, change, plan, state, entries, language_of }.pictures()
    }

    /// The mail that an entry calls for.
    fn letters(
        &self,
        act: &Act<'_>,
        (entry, pictures): (&Entry, Vec<notice::Picture>),
        state: &State,
    ) -> Result<Vec<Letter>, ServiceError> {
        let review = review_lines(self.office, self.view, self.follow_up, &entry.event, state);
        let backdrop = Backdrop {
            said: act.words.map(|words| notice::Said { who: None, at: act.at, words }),
            fitting: review.fitting,
            guide: review.guide,
            pictures,
            ..Backdrop::default()
        };
        let notices = notice::for_event(entry, state, self.plan, &self.setting(), &backdrop);
        let (target, urgency) = mailing::target_of(&entry.event, state);
        let mut letters = Vec::with_capacity(notices.len());
        for (recipient, draft) in notices {
            letters.extend(self.letter(&recipient, draft, (target, urgency, entry.at), state)?);
        }
        Ok(letters)
    }

    /// What confirms a contact's reply to the one who wrote it.
    fn confirmation(
        &self,
        act: &Act<'_>,
        entries: &[Entry],
        state: &State,
    ) -> Result<Option<(usize, Letter)>, ServiceError> {
        let Occasion::Reply { by, verdict, .. } = act.occasion else { return Ok(None) };
        let notice =
            notice::for_reply(act.at, by, verdict, entries, state, self.plan, &self.setting());
        let Some((recipient, draft)) = notice else { return Ok(None) };
        // An answer to the confirmation is about the look that was answered, and the confirmation
        // is traced to that entry.
        let about = entries.iter().enumerate().find_map(|(index, entry)| match &entry.event {
            Event::Answered { look, .. } => Some((RequestTarget::Look(*look), index)),
            Event::Started { sitting, .. } => Some((RequestTarget::Announcement(*sitting), index)),
            _ => None,
        });
        let (target, index) = about.unwrap_or((RequestTarget::Other, 0));
        let letter = self.letter(&recipient, draft, (target, Urgency::Recheck, act.at), state)?;
        Ok(letter.map(|letter| (index, letter)))
    }

    fn letter(
        &self,
        recipient: &Recipient,
        draft: notice::Draft,
        (target, urgency, now): (RequestTarget, Urgency, Instant),
        state: &State,
    ) -> Result<Option<Letter>, ServiceError> {
        let (person, to) = match recipient {
            Recipient::Contact(id) => {
                (PersonRef::Contact(id.clone()), self.people.get(id).cloned())
            }
            Recipient::Clinician(id) => {
                (PersonRef::Clinician(id.clone()), clinician(self.office, id))
            }
            Recipient::OnCover => {
                let cover = covering::cover(self.office, self.view, state, now)?;
                let id =
                    cover.first().expect("OK because a clinic file names at least one on cover");
                (PersonRef::Clinician(id.clone()), clinician(self.office, id))
            }
        };
        // A person whose address was erased cannot be written to; the journal still says that
        // they would have been.
        let Some(to) = to else { return Ok(None) };
        let slip =
            Slip { follow_up: Some(self.follow_up), cause: None, person, target, urgency, now };
        Letter::written(self.office, slip, to, draft).map(Some)
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
