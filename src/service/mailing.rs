//! From a notice to a mail in the outbox: its address, its token, its place in the thread.
//!
//! Never here: wording, sending.
//! Promises: one Message-ID and one token per mail, for good; all mail about one client to one
//! person hangs on one thread.

use super::error::ServiceError;
use super::office::Office;
use crate::follow_up::event::LookKind;
use crate::follow_up::{Event, Instant, State};
use crate::notice;
use crate::post::message::{Attachment, Draft, InlineImage, compose};
use crate::post::{Address, Mailbox};
use crate::store::{
    FollowUpId, JournalSeq, NewMail, OutboxId, Person, PersonRef, RequestTarget, StoreError, Token,
    TokenMeaning, Tx, Urgency,
};

/// What a calendar is called as a file.
const CALENDAR_FILE: &str = "skin-checks.ics";

/// What mail is composed of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Stationery {
    /// The plain text, and a page of the same with its pictures.
    #[default]
    Whole,
    /// The plain text alone: for runs of many follow-ups whose mail nobody looks at.
    PlainText,
}

/// Where a mail belongs.
#[derive(Clone, Debug)]
pub struct Slip {
    /// The follow-up, where it is about one.
    pub follow_up: Option<FollowUpId>,
    /// The entry that called for it.
    pub cause: Option<JournalSeq>,
    /// To whom.
    pub person: PersonRef,
    /// What it asks about.
    pub target: RequestTarget,
    /// How urgent it is.
    pub urgency: Urgency,
    /// When.
    pub now: Instant,
}

/// Puts a notice in the outbox, with the token that its answer will carry.
///
/// # Errors
/// When the address on file cannot be used, the notice cannot be composed, or the store refuses.
pub fn post(
    office: &Office,
    tx: &mut Tx<'_>,
    slip: Slip,
    to: Person,
    draft: notice::Draft,
) -> Result<OutboxId, ServiceError> {
    let cause = slip.cause;
    Ok(Letter::written(office, slip, to, draft)?.put(tx, cause)?.outbox)
}

/// A mail that is composed, with its token, and is still to be put in the outbox.
#[derive(Debug)]
pub(super) struct Letter {
    slip: Slip,
    to: Person,
    draft: notice::Draft,
    token: Token,
    mail: NewMail,
}

/// A notice that lies in the outbox.
#[derive(Debug)]
pub(super) struct Posted {
    /// Its number.
    pub(super) outbox: OutboxId,
    /// Where it belongs.
    pub(super) slip: Slip,
    /// To whom.
    pub(super) to: Person,
    /// What it says.
    pub(super) draft: notice::Draft,
    /// Where its answers go.
    pub(super) answer_to: String,
}

impl Letter {
    /// Composes a notice. Needs no store.
    ///
    /// # Errors
    /// When the address on file cannot be used, or the notice cannot be composed.
    pub(super) fn written(
        office: &Office,
        slip: Slip,
        to: Person,
        draft: notice::Draft,
    ) -> Result<Self, ServiceError> {
        let token = office.token(slip.now)?;
        let mail = composed(office, &slip, &to, &draft, &token)?;
        Ok(Self { slip, to, draft, token, mail })
    }

    /// Puts it in the outbox, to be traced to the entry that called for it.
    ///
    /// # Errors
    /// When the store refuses.
    pub(super) fn put(
        self,
        tx: &mut Tx<'_>,
        cause: Option<JournalSeq>,
    ) -> Result<Posted, StoreError> {
        let Self { slip, to, draft, token, mut mail } = self;
        mail.cause = cause;
        let outbox = tx.put_mail(&mail, slip.now)?;
        let meaning = TokenMeaning {
            follow_up: slip.follow_up,
            person: slip.person.clone(),
            target: slip.target,
            outbox: Some(outbox),
            made_at: slip.now,
        };
        tx.put_token(&token, &meaning)?;
        Ok(Posted { outbox, slip, to, draft, answer_to: mail.sender })
    }
}

/// Composes a notice that is sent without the outbox, because the outbox cannot be written: its
/// answer belongs to nothing and is set aside.
///
/// # Errors
/// When the address cannot be used, or the notice cannot be composed.
pub fn without_outbox(
    office: &Office,
    to: &Person,
    draft: &notice::Draft,
    now: Instant,
) -> Result<Vec<u8>, ServiceError> {
    let slip = Slip {
        follow_up: None,
        cause: None,
        person: PersonRef::Clinic,
        target: RequestTarget::Other,
        urgency: Urgency::Alert,
        now,
    };
    let token = office.token(now)?;
    Ok(composed(office, &slip, to, draft, &token)?.raw)
}

/// A notice as a mail, with its addresses, its token, and its place in the thread.
fn composed(
    office: &Office,
    slip: &Slip,
    to: &Person,
    draft: &notice::Draft,
    token: &Token,
) -> Result<NewMail, ServiceError> {
    let whom = || ServiceError::Address { whom: format!("{:?}", slip.person) };
    let recipient = Address::parse(&to.mail).map_err(|_| whom())?;
    let answer_to = office.reply_to.with_token(&token.to_string()).map_err(|_| whom())?;
    let domain = office.from.address.domain();
    let message_id = message_id(slip.follow_up, token, domain);
    let thread = thread_id(slip, domain);
    let mut extra_headers = Vec::new();
    if draft.urgency() == notice::Urgency::Alert {
        extra_headers.push(("Importance".to_owned(), "high".to_owned()));
    }
    let mut mail = Draft {
        from: office.from.clone(),
        to: Mailbox::new(&to.name, recipient.clone()),
        reply_to: Some(Mailbox::new(&office.clinic.name, answer_to.clone())),
        message_id: message_id.clone(),
        in_reply_to: Some(thread.clone()),
        references: vec![thread],
        subject: draft.subject().to_owned(),
        date: slip.now,
        text: draft.text(),
        html: None,
        inline_images: Vec::new(),
        calendar: None,
        attachments: Vec::new(),
        extra_headers,
    };
    if office.stationery == Stationery::Whole {
        mail.html = Some(draft.html(answer_to.as_str()));
        mail.inline_images = draft.pictures().map(inline).collect();
        mail.attachments = draft.calendar().map(calendar_file).into_iter().collect();
    }
    let raw = compose(&mail)
        .map_err(|source| ServiceError::Compose { follow_up: slip.follow_up, source })?;
    Ok(NewMail {
        follow_up: slip.follow_up,
        cause: slip.cause,
        person: slip.person.clone(),
        target: slip.target,
        sender: answer_to.as_str().to_owned(),
        address: recipient.as_str().to_owned(),
        message_id,
        urgency: slip.urgency,
        raw,
    })
}

fn inline(picture: &notice::Picture) -> InlineImage {
    InlineImage { content_id: picture.content_id.clone(), png: picture.png.to_vec() }
}

/// A file beside the text, not another form of it: a mail program shows one form only, and the text
/// must not be the one that it leaves out.
fn calendar_file(calendar: &str) -> Attachment {
    Attachment {
        name: CALENDAR_FILE.to_owned(),
        content_type: "text/calendar; charset=utf-8; method=PUBLISH".to_owned(),
        bytes: calendar.as_bytes().to_vec(),
    }
}

/// The Message-ID of a mail: the part of its token that may be shown, which is its first 13
/// letters, and the follow-up. That part alone is the instant and 22 random bits, which thousands
/// of clients who are asked at one instant would share by chance.
fn message_id(follow_up: Option<FollowUpId>, token: &Token, domain: &str) -> String {
    let shown: String = token.to_string().chars().take(13).collect();
    match follow_up {
        Some(follow_up) => format!("<{shown}.{}@{domain}>", follow_up.number()),
        None => format!("<{shown}@{domain}>"),
    }
}

/// The Message-ID on which a thread hangs. No mail bears it: mail programs join by References.
fn thread_id(slip: &Slip, domain: &str) -> String {
    let whose = match &slip.person {
        PersonRef::Contact(id) => format!("contact-{id}"),
        PersonRef::Clinician(id) => format!("clinician-{id}"),
        PersonRef::Clinic => "clinic".to_owned(),
    };
    match slip.follow_up {
        Some(follow_up) => format!("<thread-{}-{whose}@{domain}>", follow_up.number()),
        None => format!("<thread-{whose}@{domain}>"),
    }
}

/// What an entry's mail asks about, and how urgent it is.
pub fn target_of(event: &Event, state: &State) -> (RequestTarget, Urgency) {
    match event {
        Event::Sitting { sitting, .. } => (RequestTarget::Announcement(*sitting), Urgency::Routine),
        Event::Asked { look, kind, .. } => {
            let urgency = match kind {
                LookKind::Recheck => Urgency::Recheck,
                LookKind::First => Urgency::FirstLook,
                LookKind::Routine => Urgency::Routine,
            };
            (RequestTarget::Look(*look), urgency)
        }
        Event::ToldToStop { .. } => (RequestTarget::Other, Urgency::Stop),
        Event::Alerted { alert, .. } => (RequestTarget::Alert(*alert), Urgency::Alert),
        Event::ClinicTold { .. } | Event::SetAside { .. } | Event::Unreachable { .. } => {
            let urgency = if state.is_stopped() { Urgency::Alert } else { Urgency::Routine };
            (RequestTarget::Other, urgency)
        }
        _ => (RequestTarget::Other, Urgency::Routine),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mails_about_two_clients_never_share_a_message_id_and_none_shows_the_secret() {
        let token = Token::from_random(chrono::DateTime::UNIX_EPOCH, *b"sixteen bytes ok");
        let of = |number: Option<i64>| {
            message_id(number.map(FollowUpId::from_number), &token, "clinic.example")
        };
        let all = [of(None), of(Some(1)), of(Some(2))];
        assert!(all.iter().enumerate().all(|(at, id)| !all[..at].contains(id)), "{all:?}");
        let secret = token.to_string().split_off(13);
        assert!(all.iter().all(|id| !id.contains(&secret)), "{all:?}");
    }
}
