//! Rounds: requests about several clients that fall to one person at one moment go out as one mail.
//!
//! Never here: what a round says (`notice`), how a reply to one is read (`reply::round`).
//! Promises: a round is made only of clients who can be told apart by name; each client's own mail
//! stays beneath it, to be sent by itself where the round no longer fits.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;

use super::error::ServiceError;
use super::mailing::{self, Posted, Slip};
use super::office::Office;
use crate::care::ContactId;
use crate::follow_up::Instant;
use crate::notice::{self, RoundKind, RoundPart};
use crate::reply::Lexicons;
use crate::reply::round::{Called, Roll, label};
use crate::store::{
    FollowUpId, OutboxId, Person, PersonRef, RequestTarget, StoreError, Tx, Urgency, View,
};

/// Most clients in one mail: more would not be answered line by line on a phone (common practice, no
/// source).
const CLIENTS_MAX: usize = 12;

/// Mails of one transaction that may be joined.
#[derive(Debug, Default)]
pub struct Gathering {
    all: RefCell<Vec<Gathered>>,
}

#[derive(Clone, Debug)]
struct Gathered {
    outbox: OutboxId,
    follow_up: FollowUpId,
    client: (String, String),
    person: PersonRef,
    to: Person,
    urgency: Urgency,
    draft: Arc<notice::Draft>,
    answer_to: String,
}

impl Gathering {
    /// Gathers a mail that was put in, where it may be a part of a round.
    pub(super) fn gather(&self, posted: Posted, client: &notice::Client) {
        let Posted { outbox, slip, to, draft, answer_to } = posted;
        if let (Some(follow_up), Some(_)) = (slip.follow_up, draft.round_kind()) {
            self.all.borrow_mut().push(Gathered {
                outbox,
                follow_up,
                client: (client.reference().as_str().to_owned(), client.call_name().to_owned()),
                person: slip.person,
                to,
                urgency: slip.urgency,
                draft: Arc::new(draft),
                answer_to,
            });
        }
    }

    /// Joins what was gathered, person by person.
    ///
    /// # Errors
    /// When the store refuses, or a round cannot be composed.
    pub fn join(self, office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<(), ServiceError> {
        let mut groups: BTreeMap<(String, String, RoundKind), Vec<Gathered>> = BTreeMap::new();
        for one in self.all.into_inner() {
            let Some(kind) = one.draft.round_kind() else { continue };
            let whose = (one.to.mail.to_lowercase(), one.to.language.clone(), kind);
            groups.entry(whose).or_default().push(one);
        }
        for group in groups.into_values().filter(|group| group.len() > 1) {
            for parts in apart(group, &office.lexicons).chunks(CLIENTS_MAX) {
                send_together(office, tx, parts, now)?;
            }
        }
        Ok(())
    }
}

/// Those of a group who can be told apart: a client of whom two things are asked is none of them.
fn apart(group: Vec<Gathered>, lexicons: &Lexicons) -> Vec<Gathered> {
    let times = |follow_up| group.iter().filter(|one| one.follow_up == follow_up).count();
    let mut clients: Vec<Gathered> =
        group.iter().filter(|one| times(one.follow_up) == 1).cloned().collect();
    loop {
        let called: Vec<Called<'_>> = clients.iter().map(Gathered::called).collect();
        let Err(nameless) = Roll::of(&called, lexicons) else { return clients };
        let mut at = 0;
        clients.retain(|_| {
            at += 1;
            !nameless.contains(&(at - 1))
        });
    }
}

impl Gathered {
    fn called(&self) -> Called<'_> {
        Called { reference: &self.client.0, call_name: &self.client.1 }
    }
}

fn send_together(
    office: &Office,
    tx: &mut Tx<'_>,
    parts: &[Gathered],
    now: Instant,
) -> Result<(), ServiceError> {
    let [first, _, ..] = parts else { return Ok(()) };
    let called: Vec<Called<'_>> = parts.iter().map(Gathered::called).collect();
    let Ok(roll) = Roll::of(&called, &office.lexicons) else { return Ok(()) };
    let labels: Vec<String> = called.iter().map(|called| label(*called)).collect();
    let of: Vec<RoundPart<'_>> = parts
        .iter()
        .enumerate()
        .map(|(at, part)| RoundPart {
            draft: &part.draft,
            reference: &part.client.0,
            label: &labels[at],
            name: roll.name_of(at, called[at]),
            answer_to: &part.answer_to,
        })
        .collect();
    let Some(draft) = notice::round(&office.languages, &of) else { return Ok(()) };
    let slip = Slip {
        follow_up: None,
        cause: None,
        person: first.person.clone(),
        target: RequestTarget::Other,
        urgency: parts.iter().map(|part| part.urgency).min().unwrap_or(first.urgency),
        now,
    };
    let round = mailing::post(office, tx, slip, first.to.clone(), draft)?;
    let carried: Vec<OutboxId> = parts.iter().map(|part| part.outbox).collect();
    Ok(tx.carry(round, &carried)?)
}

/// A client of a round that was sent.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The follow-up.
    pub follow_up: FollowUpId,
    /// Who was asked.
    pub person: PersonRef,
    /// What was asked.
    pub target: RequestTarget,
}

/// The contacts whom a mail was written to, client by client: those of its parts where it is a round.
///
/// # Errors
/// When the store cannot be read.
pub fn contacts_of(
    view: &View<'_>,
    mail: Option<OutboxId>,
    (follow_up, person): (Option<FollowUpId>, &PersonRef),
) -> Result<Vec<(FollowUpId, ContactId)>, StoreError> {
    let contact = |follow_up: Option<FollowUpId>, person: &PersonRef| match (follow_up, person) {
        (Some(follow_up), PersonRef::Contact(contact)) => Some((follow_up, contact.clone())),
        _ => None,
    };
    match (follow_up, mail) {
        (None, Some(round)) => {
            let parts = view.parts_of(round)?;
            Ok(parts.iter().filter_map(|part| contact(part.follow_up, &part.person)).collect())
        }
        _ => Ok(contact(follow_up, person).into_iter().collect()),
    }
}

/// The clients of a round, with their names; none where a mail is no round, or where they can no
/// longer be told apart.
///
/// # Errors
/// When the store cannot be read.
pub fn asked(
    office: &Office,
    view: &View<'_>,
    round: OutboxId,
) -> Result<Option<(Roll, Vec<Asked>)>, StoreError> {
    let mut asked = Vec::new();
    let mut names = Vec::new();
    for part in view.parts_of(round)? {
        let Some(follow_up) = part.follow_up else { continue };
        names.push((
            view.client_of(follow_up)?.as_str().to_owned(),
            view.call_name(follow_up)?.unwrap_or_default(),
        ));
        asked.push(Asked { follow_up, person: part.person, target: part.target });
    }
    let called: Vec<Called<'_>> =
        names.iter().map(|(reference, call_name)| Called { reference, call_name }).collect();
    Ok(Roll::of(&called, &office.lexicons)
        .ok()
        .filter(|roll| !roll.is_empty())
        .map(|roll| (roll, asked)))
}
