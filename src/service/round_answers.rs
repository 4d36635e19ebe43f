//! One reply to a round: client by client, as if each had been answered alone.
//!
//! Never here: whose the words are (`reply::round`), what follows (the core).
//! Promises: a client is answered only by the contact who was asked about that client, and is shown no
//! other client's words; who is not named loses no answer of their own by words said of everybody; what
//! worries is heard in any case.

use super::act::{Act, act_on};
use super::answers::{Sorted, aim, answering, aside, language_of, unfit};
use super::error::ServiceError;
use super::limits;
use super::office::Office;
use super::rounds::{self, Asked, Gathering};
use crate::follow_up::{Aim, Instant, Occasion, State};
use crate::notice::UnreadReason;
use crate::reply::Answering;
use crate::reply::letter::{self, Letter, without_original};
use crate::reply::round::{Heard, Roll, read_round};
use crate::store::{
    Filing, OccasionRecord, OutboxId, PersonRef, RequestTarget, StoreError, TakenMail, Tx, View,
};

/// A round that is answered.
pub(super) struct Round {
    /// The mail that it was.
    pub(super) outbox: OutboxId,
    /// Its clients, by name.
    pub(super) roll: Roll,
    /// What was asked of each.
    pub(super) asked: Vec<Asked>,
}

/// Takes a reply to a round.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub(super) fn answer(
    office: &Office,
    tx: &mut Tx<'_>,
    (mail, letter, sorted): (&TakenMail, &Letter, &Sorted),
    round: Round,
    (came_at, now): (Instant, Instant),
) -> Result<(), ServiceError> {
    let doubt = unfit(office, letter);
    let heard = heard(office, tx, letter, sorted, &round)?;
    let person =
        round.asked.iter().find(|one| sorted.is_on_file(one)).map(|one| one.person.clone());
    let is_worrying = |heard: &Heard| heard.read.verdict.reading.is_worrying();
    let any_worry = heard.iter().flatten().any(is_worrying);
    if let (false, Some(person)) = (any_worry, &person)
        && limits::is_flooding(tx, None, person, now)?
    {
        return aside(office, tx, mail, letter, sorted, (UnreadReason::TooMany, came_at, now));
    }
    let gathering = Gathering::default();
    let mut unheard = doubt;
    for (asked, heard) in round.asked.iter().zip(heard) {
        let (Some(heard), PersonRef::Contact(by)) = (heard, &asked.person) else { continue };
        if !sorted.is_on_file(asked) {
            unheard = unheard.or(Some(UnreadReason::WrongSender));
            continue;
        }
        let worries = is_worrying(&heard);
        let aim = match doubt {
            None => aim(asked.target),
            // R29: a mark or worse, from any contact on file, is never set aside.
            Some(_) if worries => Aim::Nothing,
            Some(_) => continue,
        };
        let loaded = office.load(tx, asked.follow_up)?;
        if !heard.is_named && !worries && is_settled(&loaded.state, asked.target) {
            office.lay_back(loaded);
            continue;
        }
        let plan = office.plan(tx, &loaded.plan)?;
        let occasion = Occasion::Reply { by: by.clone(), verdict: heard.read.verdict, aim };
        let detail =
            serde_json::json!({ "inbox": mail.id.number(), "round": round.outbox.number() });
        let words = Some(heard.words.as_str());
        let reply = Act { occasion: &occasion, kind: "reply", detail, at: came_at, words };
        act_on(office, tx, loaded, &plan, &reply, Some(&gathering))?;
    }
    gathering.join(office, tx, now)?;
    if let Some(why) = unheard {
        return aside(office, tx, mail, letter, sorted, (why, came_at, now));
    }
    // About several clients, so it is filed under none of them.
    let filing = Filing { follow_up: None, person, note: "answer to a round".to_owned() };
    Ok(tx.file_received(mail.id, &filing)?)
}

/// What the reply says of each client.
fn heard(
    office: &Office,
    tx: &Tx<'_>,
    letter: &Letter,
    sorted: &Sorted,
    round: &Round,
) -> Result<Vec<Option<Heard>>, ServiceError> {
    let mut kinds = Vec::new();
    let mut language = None;
    for asked in &round.asked {
        let loaded = office.load(tx, asked.follow_up)?;
        kinds.push(answering(&loaded.state, asked.target));
        office.lay_back(loaded);
        if let (None, true, PersonRef::Contact(contact)) =
            (&language, sorted.is_on_file(asked), &asked.person)
        {
            language = Some(language_of(tx, asked.follow_up, contact)?);
        }
    }
    let letter = own_words(tx, round.outbox, letter)?;
    let language = language.unwrap_or_default();
    Ok(read_round(&office.lexicons, &language, (&round.roll, &kinds), &letter))
}

/// The reply without the round. That names everybody and spells out every answer: where a mail program
/// quotes it without a sign, none of it may be taken for the reply.
fn own_words(view: &View<'_>, round: OutboxId, letter: &Letter) -> Result<Letter, StoreError> {
    let original = view.raw_mail(round)?.map(|raw| letter::open(&raw).words);
    let words = match &original {
        Some(original) => without_original(&letter.words, original),
        None => letter.words.clone(),
    };
    Ok(Letter { words, ..letter.clone() })
}

/// What a reply that an occasion rests on says about its follow-up: all of it, or the words about this
/// client alone where it answers for several.
///
/// # Errors
/// When the store cannot be read.
pub fn words_about(
    office: &Office,
    view: &View<'_>,
    occasion: &OccasionRecord,
    letter: &Letter,
) -> Result<String, StoreError> {
    let Some(round) = occasion.round() else { return Ok(letter.words.clone()) };
    let Some((roll, asked)) = rounds::asked(office, view, round)? else { return Ok(String::new()) };
    let kinds = vec![Answering::Look; asked.len()];
    let letter = own_words(view, round, letter)?;
    let heard = read_round(&office.lexicons, "", (&roll, &kinds), &letter);
    let own =
        asked.iter().zip(heard).find(|(asked, _)| Some(asked.follow_up) == occasion.follow_up);
    Ok(own.and_then(|(_, heard)| heard).map_or_else(String::new, |heard| heard.words))
}

/// Whether what was asked has its answer, or is over without one.
fn is_settled(state: &State, target: RequestTarget) -> bool {
    match target {
        RequestTarget::Look(id) => state.known_look(id).is_none_or(|look| !look.is_unsettled()),
        RequestTarget::Announcement(_) | RequestTarget::Alert(_) | RequestTarget::Other => true,
    }
}
