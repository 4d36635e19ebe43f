//! From a notice to a mail in the outbox: its address, its token, its place in the thread.
//!
//! Never here: wording, sending.
//! Promises: one Message-ID and one token per mail, for good; all mail about one client to one
//! person hangs on one thread.

use std::sync::Arc;

use super::composing::Scribe;
use super::error::ServiceError;
use super::office::Office;
use crate::follow_up::event::LookKind;
use crate::follow_up::{Event, Instant, State};
use crate::notice;
use crate::post::message::{Attachment, Draft, InlineImage, compose};
use crate::post::{Address, Mailbox};
use crate::store::{
    FollowUpId, JournalSeq, NewMail, OutboxId, Person, PersonRef, RequestTarget, Token,
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

/// Puts a notice in the outbox, with the token that its answer will carry. A scribe composes it beside
/// the writer; without one it is composed at once.
///
/// # Errors
/// When the address on file cannot be used, the notice cannot be composed, or the store refuses.
pub fn post(
    office: &Office,
    tx: &mut Tx<'_>,
    slip: &Slip,
    to: &Person,
    draft: impl Into<Arc<notice::Draft>>,
    scribe: Option<&Scribe>,
) -> Result<Posted, ServiceError> {
    let token = office.token(slip.now)?;
    let (mut mail, sheet) = laid_out(office, slip, to, draft.into(), &token)?;
    let answer_to = mail.sender.clone();
    let outbox = if let Some(scribe) = scribe {
        let outbox = tx.put_mail_without_bytes(&mail, slip.now)?;
        scribe.order(outbox, sheet);
        outbox
    } else {
        mail.raw = sheet.composed()?;
        tx.put_mail(&mail, slip.now)?
    };
    tx.put_token(
        &token,
        &TokenMeaning {
            follow_up: slip.follow_up,
            person: slip.person.clone(),
            target: slip.target,
            outbox: Some(outbox),
            made_at: slip.now,
        },
    )?;
    Ok(Posted { outbox, answer_to })
}

/// A notice that lies in the outbox.
#[derive(Clone, Debug)]
pub struct Posted {
    /// Its number.
    pub outbox: OutboxId,
    /// Where its answers go.
    pub answer_to: String,
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
    let (_, sheet) = laid_out(office, &slip, to, Arc::new(draft.clone()), &token)?;
    sheet.composed()
}

/// A mail that has its place, and a notice that is still to be put into its final words.
#[derive(Debug)]
pub(super) struct Sheet {
    follow_up: Option<FollowUpId>,
    head: Draft,
    notice: Arc<notice::Draft>,
    stationery: Stationery,
}

impl Sheet {
    /// The bytes of the mail.
    pub(super) fn composed(self) -> Result<Vec<u8>, ServiceError> {
        let Self { follow_up, mut head, notice, stationery } = self;
        head.text = notice.text();
        if stationery == Stationery::Whole {
            let answer_to = head.reply_to.as_ref().map_or("", |mailbox| mailbox.address.as_str());
            head.html = Some(notice.html(answer_to));
            head.inline_images = notice.pictures().map(inline).collect();
            head.attachments = notice.calendar().map(calendar_file).into_iter().collect();
        }
        compose(&head).map_err(|source| ServiceError::Compose { follow_up, source })
    }
}

/// Gives a notice its addresses, its token, and its place in the thread. The bytes are still to come.
fn laid_out(
    office: &Office,
    slip: &Slip,
    to: &Person,
    draft: Arc<notice::Draft>,
    token: &Token,
) -> Result<(NewMail, Sheet), ServiceError> {
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
    let head = Draft {
        from: office.from.clone(),
        to: Mailbox::new(&to.name, recipient.clone()),
        reply_to: Some(Mailbox::new(&office.clinic.name, answer_to.clone())),
        message_id: message_id.clone(),
        in_reply_to: Some(thread.clone()),
        references: vec![thread],
        subject: draft.subject().to_owned(),
        date: slip.now,
        text: String::new(),
        html: None,
        inline_images: Vec::new(),
        calendar: None,
        attachments: Vec::new(),
        extra_headers,
    };
    let mail = NewMail {
        follow_up: slip.follow_up,
        cause: slip.cause,
        person: slip.person.clone(),
        target: slip.target,
        sender: answer_to.as_str().to_owned(),
        address: recipient.as_str().to_owned(),
        message_id,
        urgency: slip.urgency,
        raw: Vec::new(),
    };
    let (follow_up, stationery) = (slip.follow_up, office.stationery);
    Ok((mail, Sheet { follow_up, head, notice: draft, stationery }))
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
