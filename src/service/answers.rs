//! Incoming mail: whose it is, what it answers, what it means — and then the act (R28, R29).
//!
//! Never here: mailboxes; reading words (`reply`); what follows (the core).
//! Promises: a mail is worked through in one transaction with what it leads to; what cannot be
//! placed is set aside and shown to the clinic with its words, never dropped.

use super::act::{Act, act};
use super::error::ServiceError;
use super::limits;
use super::office::Office;
use super::round_answers::{self, Round};
use super::rounds::{self, Asked};
use super::waking::tell_first_on_cover;
use crate::care::{ClinicianId, ContactId};
use crate::config::Clinician;
use crate::follow_up::event::LookKind;
use crate::follow_up::{Aim, Answered, Instant, Occasion, State, Target};
use crate::notice::{UnreadMail, UnreadReason};
use crate::post::Address;
use crate::reply::letter::{Delivery, Kind, Letter, Proof, RecipientReport, read_letter};
use crate::reply::{Answering, Read};
use crate::store::{
    Filing, FollowUpId, PersonRef, RequestTarget, StoreError, TakenMail, Token, TokenMeaning, Tx,
    Urgency, View,
};

/// How many clients of one contact a report without a token may concern. With more, nobody can
/// tell whose skin is meant, and a person has to.
const CLIENTS_KNOWN_BY_ADDRESS: usize = 1;

/// Works one mail of the inbox through. `letter` is what `letter::open` makes of its bytes; the
/// caller opens it, since a large mail takes its time and the writer has others to serve.
///
/// # Errors
/// When the store refuses; then nothing has happened and the mail is taken again.
pub fn work_through(
    office: &Office,
    tx: &mut Tx<'_>,
    mail: &TakenMail,
    letter: &Letter,
    now: Instant,
) -> Result<(), ServiceError> {
    // The arrival counts, but never in the future, nor before what is journalled already.
    let came_at = mail.received_at.min(now);
    let sorted = Sorted::of(office, tx, letter)?;
    match &letter.kind {
        Kind::DeliveryReport(reports) => {
            delivery_report(office, tx, reports, &sorted, now)?;
            tx.file_received(mail.id, &sorted.filing("delivery report"))?;
        }
        Kind::Automatic(_) => tx.file_received(mail.id, &sorted.filing("automatic"))?,
        Kind::Person if letter.from.as_deref() == Some(office.from.address.folded().as_str()) => {
            tx.file_received(mail.id, &sorted.filing("our own mail"))?;
        }
        Kind::Person => answer(office, tx, mail, letter, &sorted, (came_at, now))?,
    }
    if sorted.is_strangers(office, letter) {
        limits::keep_within_day(office, tx, mail, now)?;
    }
    Ok(())
}

/// Why the letter is no answer, whoever wrote it: our own receiving server does not vouch for its
/// sender, or it cannot be read whole.
pub(super) fn unfit(office: &Office, letter: &Letter) -> Option<UnreadReason> {
    if letter.is_tangled {
        return Some(UnreadReason::Unreadable);
    }
    let server = office.clinic.mail.authserv_id.as_deref()?;
    match letter.proof(server) {
        Proof::Passed | Proof::NothingToCheck => None,
        Proof::Failed | Proof::Absent => Some(UnreadReason::Unproven),
    }
}

/// What token and sender say about a mail.
pub(super) struct Sorted {
    /// The token's meaning, where it carries one of ours.
    meaning: Option<TokenMeaning>,
    /// Who is on file under the sender's address.
    senders: Vec<(Option<FollowUpId>, PersonRef)>,
}

/// Who wrote a mail, and about whom.
enum Writer {
    /// A contact who was asked, answering that request.
    Asked { follow_up: FollowUpId, contact: ContactId, target: RequestTarget },
    /// A contact on file, without a request of their own.
    Unasked { follow_up: FollowUpId, contact: ContactId, why: UnreadReason },
    /// A clinician, answering mail about a follow-up.
    Clinician { follow_up: FollowUpId, clinician: ClinicianId, meaning: TokenMeaning },
    /// Nobody who can be placed.
    Unknown(UnreadReason),
}

impl Writer {
    /// The same writer of a letter that is no answer: what worries is still heard of a contact,
    /// and nothing is decided by it.
    fn doubted(self, why: UnreadReason) -> Self {
        match self {
            Self::Asked { follow_up, contact, .. } | Self::Unasked { follow_up, contact, .. } => {
                Self::Unasked { follow_up, contact, why }
            }
            Self::Clinician { .. } | Self::Unknown(_) => Self::Unknown(why),
        }
    }
}

impl Sorted {
    fn of(office: &Office, view: &View<'_>, letter: &Letter) -> Result<Self, ServiceError> {
        let mut meaning = None;
        for recipient in &letter.recipients {
            let token = Address::parse(recipient)
                .ok()
                .filter(|address| address.without_token().is_same(&office.reply_to))
                .and_then(|address| address.token().map(str::to_owned));
            if let Some(token) = token.and_then(|token| token.parse::<Token>().ok()) {
                meaning = view.token(&token)?;
            }
            if meaning.is_some() {
                break;
            }
        }
        let senders = match &letter.from {
            Some(from) => view.people_with_mail(from)?,
            None => Vec::new(),
        };
        Ok(Self { meaning, senders })
    }

    /// Whether the mail belongs to no request of ours and names nobody on file as its sender.
    fn is_strangers(&self, office: &Office, letter: &Letter) -> bool {
        self.meaning.is_none() && self.senders.is_empty() && clinician_of(office, letter).is_none()
    }

    fn filing(&self, note: &str) -> Filing {
        let meaning = self.meaning.as_ref();
        let sender = self.senders.first();
        Filing {
            follow_up: meaning.and_then(|m| m.follow_up).or(sender.and_then(|(id, _)| *id)),
            person: sender.map(|(_, person)| person.clone()),
            note: note.to_owned(),
        }
    }

    /// The round that is answered by a person whom it was written to.
    fn round(&self, office: &Office, view: &View<'_>) -> Result<Option<Round>, StoreError> {
        let meaning = self.meaning.as_ref().filter(|meaning| meaning.follow_up.is_none());
        let Some(outbox) = meaning.and_then(|meaning| meaning.outbox) else { return Ok(None) };
        let Some((roll, asked)) = rounds::asked(office, view, outbox)? else { return Ok(None) };
        let is_theirs = asked.iter().any(|client| self.is_on_file(client));
        Ok(is_theirs.then_some(Round { outbox, roll, asked }))
    }

    /// Whether the sender is on file as the one who was asked about a client.
    pub(super) fn is_on_file(&self, client: &Asked) -> bool {
        self.senders.contains(&(Some(client.follow_up), client.person.clone()))
    }

    /// R29: a look is answered by the contact who was asked, from the address on file, by the
    /// token of that request; a stop is lifted by clinicians only.
    fn writer(&self, office: &Office, letter: &Letter) -> Writer {
        let clinician = clinician_of(office, letter);
        if let Some(meaning) = &self.meaning
            && let Some(follow_up) = meaning.follow_up
        {
            match &meaning.person {
                PersonRef::Clinician(_) => {
                    if let Some(clinician) = clinician {
                        let (clinician, meaning) = (clinician.id.clone(), meaning.clone());
                        return Writer::Clinician { follow_up, clinician, meaning };
                    }
                }
                PersonRef::Contact(asked) => {
                    let on_file = |contact: &ContactId| {
                        self.senders
                            .contains(&(Some(follow_up), PersonRef::Contact(contact.clone())))
                    };
                    if on_file(asked) {
                        let (contact, target) = (asked.clone(), meaning.target);
                        return Writer::Asked { follow_up, contact, target };
                    }
                    if let Some(contact) = self.contact_of(follow_up) {
                        let why = UnreadReason::WrongSender;
                        return Writer::Unasked { follow_up, contact, why };
                    }
                }
                PersonRef::Clinic => {}
            }
            return match self.only_client() {
                Some((follow_up, contact)) => {
                    let why = UnreadReason::WrongSender;
                    Writer::Unasked { follow_up, contact, why }
                }
                None => Writer::Unknown(UnreadReason::WrongSender),
            };
        }
        match self.only_client() {
            Some((follow_up, contact)) => {
                let why = UnreadReason::UnknownToken;
                Writer::Unasked { follow_up, contact, why }
            }
            None if self.senders.is_empty() && clinician.is_none() => {
                Writer::Unknown(UnreadReason::UnknownSender)
            }
            None => Writer::Unknown(UnreadReason::UnknownToken),
        }
    }

    fn contact_of(&self, follow_up: FollowUpId) -> Option<ContactId> {
        self.senders.iter().find_map(|(whose, person)| match person {
            PersonRef::Contact(contact) if *whose == Some(follow_up) => Some(contact.clone()),
            _ => None,
        })
    }

    /// The one client that the sender is a contact of.
    fn only_client(&self) -> Option<(FollowUpId, ContactId)> {
        let mut clients = self.senders.iter().filter_map(|(whose, person)| match (whose, person) {
            (Some(follow_up), PersonRef::Contact(contact)) => Some((*follow_up, contact.clone())),
            _ => None,
        });
        let first = clients.next()?;
        (clients.count() < CLIENTS_KNOWN_BY_ADDRESS).then_some(first)
    }
}

/// The clinician whose address a letter names as its sender.
fn clinician_of<'o>(office: &'o Office, letter: &Letter) -> Option<&'o Clinician> {
    let from = letter.from.as_deref()?;
    office.clinic.clinicians.iter().find(|one| one.mail.as_str().eq_ignore_ascii_case(from))
}

fn answer(
    office: &Office,
    tx: &mut Tx<'_>,
    mail: &TakenMail,
    letter: &Letter,
    sorted: &Sorted,
    (came_at, now): (Instant, Instant),
) -> Result<(), ServiceError> {
    if let Some(round) = sorted.round(office, tx)? {
        return round_answers::answer(office, tx, (mail, letter, sorted), round, (came_at, now));
    }
    let writer = sorted.writer(office, letter);
    let writer = match unfit(office, letter) {
        Some(why) => writer.doubted(why),
        None => writer,
    };
    match writer {
        Writer::Asked { follow_up, contact, target } => {
            let loaded = office.load(tx, follow_up)?;
            let aim = aim(target);
            let answering = answering(&loaded.state, target);
            office.lay_back(loaded);
            let language = language_of(tx, follow_up, &contact)?;
            let read = read_letter(&office.lexicons, &language, answering, letter, None);
            let person = PersonRef::Contact(contact.clone());
            let is_worrying = read.verdict.reading.is_worrying();
            if !is_worrying && limits::is_flooding(tx, Some(follow_up), &person, now)? {
                // No answer of ours, so that two machines that answer each other stop.
                return aside(
                    office,
                    tx,
                    mail,
                    letter,
                    sorted,
                    (UnreadReason::TooMany, came_at, now),
                );
            }
            reply(office, tx, mail, letter, (follow_up, contact, aim, read), came_at)?;
            tx.file_received(mail.id, &sorted.filing("answer"))?;
        }
        Writer::Unasked { follow_up, contact, why } => {
            let loaded = office.load(tx, follow_up)?;
            let answering = newest(&loaded.state);
            office.lay_back(loaded);
            let language = language_of(tx, follow_up, &contact)?;
            let read = read_letter(&office.lexicons, &language, answering, letter, None);
            // R29: a mark or worse, from any contact on file, is never set aside.
            if read.verdict.reading.is_worrying() {
                reply(office, tx, mail, letter, (follow_up, contact, Aim::Nothing, read), came_at)?;
                tx.file_received(mail.id, &sorted.filing("reported without a request"))?;
            } else {
                aside(office, tx, mail, letter, sorted, (why, came_at, now))?;
            }
        }
        Writer::Clinician { follow_up, clinician, meaning } => {
            let language = office
                .clinic
                .clinician(&clinician)
                .map_or_else(String::new, |clinician| clinician.language.as_str().to_owned());
            let read = read_letter(&office.lexicons, &language, Answering::Alert, letter, None);
            let answers = Some(answered(tx, follow_up, &meaning)?);
            let occasion = Occasion::Decision { by: clinician, verdict: read.verdict, answers };
            let detail = serde_json::json!({ "inbox": mail.id.number() });
            let words = Some(letter.words.as_str());
            act(
                office,
                tx,
                follow_up,
                &Act { occasion: &occasion, kind: "decision", detail, at: came_at, words },
            )?;
            tx.file_received(mail.id, &sorted.filing("decision"))?;
        }
        Writer::Unknown(why) => aside(office, tx, mail, letter, sorted, (why, came_at, now))?,
    }
    Ok(())
}

fn reply(
    office: &Office,
    tx: &mut Tx<'_>,
    mail: &TakenMail,
    letter: &Letter,
    (follow_up, by, aim, read): (FollowUpId, ContactId, Aim, Read),
    came_at: Instant,
) -> Result<(), ServiceError> {
    let occasion = Occasion::Reply { by, verdict: read.verdict, aim };
    let detail = serde_json::json!({ "inbox": mail.id.number() });
    let words = Some(letter.words.as_str());
    let act_of = Act { occasion: &occasion, kind: "reply", detail, at: came_at, words };
    act(office, tx, follow_up, &act_of)?;
    Ok(())
}

/// What mail a clinician answers, so that an answer to an earlier alert is not taken for one to a
/// newer alert.
fn answered(
    view: &View<'_>,
    follow_up: FollowUpId,
    meaning: &TokenMeaning,
) -> Result<Answered, ServiceError> {
    match (meaning.target, meaning.outbox) {
        (RequestTarget::Alert(alert), _) => Ok(Answered::Alert(alert)),
        (_, None) => Ok(Answered::Notice { told_of: None }),
        (_, Some(mail)) => {
            let told_of = view.newest_alert_sent(follow_up, &meaning.person, mail)?;
            Ok(Answered::Notice { told_of })
        }
    }
}

pub(super) fn aim(target: RequestTarget) -> Aim {
    match target {
        RequestTarget::Announcement(sitting) => Aim::Request(Target::Announcement(sitting)),
        RequestTarget::Look(look) => Aim::Request(Target::Look(look)),
        // A notice that asked for nothing: whatever this person was asked last.
        RequestTarget::Alert(_) | RequestTarget::Other => Aim::Newest,
    }
}

pub(super) fn answering(state: &State, target: RequestTarget) -> Answering {
    match target {
        RequestTarget::Announcement(_) => Answering::Start,
        RequestTarget::Look(id) => {
            state.known_look(id).map_or_else(|| newest(state), |look| of_kind(look.kind))
        }
        RequestTarget::Alert(_) | RequestTarget::Other => newest(state),
    }
}

fn newest(state: &State) -> Answering {
    state.looks().next_back().map_or(Answering::Look, |look| of_kind(look.kind))
}

fn of_kind(kind: LookKind) -> Answering {
    match kind {
        LookKind::Recheck => Answering::Recheck,
        LookKind::First | LookKind::Routine => Answering::Look,
    }
}

pub(super) fn language_of(
    view: &View<'_>,
    follow_up: FollowUpId,
    contact: &ContactId,
) -> Result<String, ServiceError> {
    let person = view.contact(follow_up, contact)?;
    Ok(person.map_or_else(String::new, |person| person.language))
}

/// Sets a mail aside and shows it to the clinic with its words.
pub(super) fn aside(
    office: &Office,
    tx: &mut Tx<'_>,
    mail: &TakenMail,
    letter: &Letter,
    sorted: &Sorted,
    (why, came_at, now): (UnreadReason, Instant, Instant),
) -> Result<(), ServiceError> {
    let note = match why {
        UnreadReason::UnknownSender => "unknown sender",
        UnreadReason::UnknownToken => "no token of ours",
        UnreadReason::WrongSender => "token of somebody else",
        UnreadReason::Unproven => "sender not proven",
        UnreadReason::Unreadable => "cannot be read",
        UnreadReason::TooMany => "too many mails in an hour",
    };
    tx.set_received_aside(mail.id, &sorted.filing(note))?;
    let language = office.lexicons.codes().next().unwrap_or_default().to_owned();
    let read = read_letter(&office.lexicons, &language, Answering::Look, letter, None);
    let worrying = read.verdict.reading.is_worrying();
    let urgency = if worrying { Urgency::Alert } else { Urgency::Routine };
    if !limits::may_show(office, tx, now)? {
        return Ok(());
    }
    tell_first_on_cover(office, tx, now, urgency, |desk| {
        desk.mail_set_aside(&UnreadMail {
            why,
            came_at,
            sender: letter.from.as_deref(),
            words: Some(letter.words.as_str()).filter(|words| !words.trim().is_empty()),
        })
    })
}

/// R27: a delivery report. Only a failure says anything about a person; a delay is tried on by
/// the server that reports it.
fn delivery_report(
    office: &Office,
    tx: &mut Tx<'_>,
    reports: &[RecipientReport],
    sorted: &Sorted,
    now: Instant,
) -> Result<(), ServiceError> {
    let failed = reports.iter().any(|report| report.action == Delivery::Failed);
    let Some(meaning) = sorted.meaning.as_ref().filter(|_| failed) else { return Ok(()) };
    let whose = (meaning.follow_up, &meaning.person);
    for (follow_up, contact) in rounds::contacts_of(tx, meaning.outbox, whose)? {
        let occasion = Occasion::Unreachable { contact };
        let detail = serde_json::json!({ "outbox": meaning.outbox.map(|id| id.number()) });
        let unreachable =
            Act { occasion: &occasion, kind: "undeliverable", detail, at: now, words: None };
        act(office, tx, follow_up, &unreachable)?;
    }
    Ok(())
}
