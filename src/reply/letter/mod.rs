//! One whole message as it arrived: who wrote it, what it answers, whether a person wrote it, and
//! the writer's own words without quotes, signatures and mark-up.
//!
//! Never here: what the words mean (`reading`), whether the writer may answer, mailboxes.
//! Promises: any bytes give a letter; the words are at most `TEXT_BYTES_MAX` bytes; words that were
//! quoted from somebody else are not the writer's.

mod attribution;
mod body;
mod divider;
mod flowed;
mod html;
mod machine;
mod own_words;
mod proof;
mod report;
mod structure;

use chrono::{DateTime, Utc};
use mail_parser::{Address, HeaderValue, Message, MessageParser};

pub use own_words::without_original;
pub use proof::Proof;
pub use report::{Delivery, RecipientReport};

use super::reading::{Read, read, unclear};
use super::{Answering, Lexicons};
use crate::care::{Reading, Verdict};

/// Most bytes of a message that are parsed: photographs come as attachments.
pub const LETTER_BYTES_MAX: usize = 32 * 1024 * 1024;

/// A message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Letter {
    /// The bare address it is from, in lower case.
    pub from: Option<String>,
    /// The bare addresses it went to (To, Cc, Delivered-To, X-Original-To), in lower case.
    pub recipients: Vec<String>,
    /// Its Message-ID, without brackets.
    pub message_id: Option<String>,
    /// The Message-IDs it answers, without brackets.
    pub in_reply_to: Vec<String>,
    /// The Message-IDs of its thread, oldest first, without brackets.
    pub references: Vec<String>,
    /// Its subject.
    pub subject: Option<String>,
    /// When it says it was written.
    pub date: Option<DateTime<Utc>>,
    /// Whether a person wrote it.
    pub kind: Kind,
    /// The writer's own words.
    pub words: String,
    /// What a subject of the writer's own says above the words; none where it repeats another.
    pub subject_words: Option<String>,
    /// The words are somebody else's, forwarded without a word of the writer's own.
    pub only_forwarded: bool,
    /// Its parts are nested or numbered beyond all use, so that it cannot be read whole.
    pub is_tangled: bool,
    /// The Authentication-Results headers as they stand, topmost first.
    pub authentication_results: Vec<String>,
}

/// Who or what wrote a message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A person, as far as can be told.
    Person,
    /// A machine: an absence notice, a read receipt, a calendar answer, list mail.
    Automatic(Automatic),
    /// A report on the delivery of one of our notices, one entry for each recipient.
    DeliveryReport(Vec<RecipientReport>),
}

/// Why a message is taken to be a machine's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Automatic {
    /// It says so itself: Auto-Submitted (RFC 3834) or a header of the same meaning.
    AutoSubmitted,
    /// An absence notice, by its subject.
    Absence,
    /// A read receipt (RFC 8098).
    ReadReceipt,
    /// An answer to a calendar entry (RFC 5546).
    CalendarAnswer,
    /// Mail of a list or to many.
    Bulk,
    /// A mail server wrote it, without a report that can be read.
    MailServer,
}

/// Opens a message. Bytes that are no message give a letter without words.
pub fn open(raw: &[u8]) -> Letter {
    let raw = &raw[..raw.len().min(LETTER_BYTES_MAX)];
    let Some(message) = MessageParser::default().parse(raw) else { return blank() };
    let mut letter = Letter {
        from: message.from().and_then(first_address),
        recipients: recipients(&message),
        message_id: message.message_id().map(str::to_owned),
        in_reply_to: ids(message.in_reply_to()),
        references: ids(message.references()),
        subject: message.subject().map(str::to_owned),
        date: message.date().and_then(|date| DateTime::from_timestamp(date.to_timestamp(), 0)),
        kind: Kind::Person,
        words: String::new(),
        subject_words: None,
        only_forwarded: false,
        is_tangled: !structure::is_readable(&message),
        authentication_results: raw_headers(&message, "Authentication-Results"),
    };
    let name = message.from().and_then(Address::first).and_then(|a| a.name.as_deref());
    let own = own_words::own_words(&body::text(&message), name);
    letter.words = own.words;
    letter.only_forwarded = own.only_forwarded;
    letter.kind = machine::kind(&message, &letter);
    if letter.words.trim().is_empty() {
        letter.words = spoken_subject(&letter).unwrap_or_default();
    } else if letter.kind == Kind::Person {
        letter.subject_words = own_subject(&letter).map(str::to_owned);
    }
    letter
}

/// The Message-ID of a message, without brackets, as `open` finds it; only the head is read.
pub fn message_id(raw: &[u8]) -> Option<String> {
    let raw = &raw[..raw.len().min(LETTER_BYTES_MAX)];
    let message = MessageParser::default().parse_headers(raw)?;
    message.message_id().map(str::to_owned)
}

/// Reads what a letter answers. `original` is the text of the notice that it answers, where that is
/// known: its lines are taken out first, however they are quoted.
pub fn read_letter(
    lexicons: &Lexicons,
    first_language: &str,
    answering: Answering,
    letter: &Letter,
    original: Option<&str>,
) -> Read {
    match &letter.kind {
        Kind::Person => {}
        Kind::Automatic(reason) => return automatic(&format!("the message is {reason}")),
        Kind::DeliveryReport(_) => return automatic("the message is a report on a delivery"),
    }
    let words =
        original.map_or_else(|| letter.words.clone(), |o| without_original(&letter.words, o));
    let found = match &letter.subject_words {
        Some(subject) => under_subject(lexicons, first_language, answering, (subject, &words)),
        None => read(lexicons, first_language, answering, &words),
    };
    let grave = matches!(
        found.verdict.reading,
        Reading::Marked | Reading::Persisting | Reading::Alarming | Reading::Automatic
    );
    if letter.only_forwarded && !grave {
        return unclear("only somebody else's words were forwarded");
    }
    if letter.is_tangled && !grave {
        return unclear("the parts of the message are nested too deep to be read whole");
    }
    found
}

/// Words that the writer began, or said all of, in the subject: it is heard where it is worse than
/// what stands below, and where that alone cannot be read or says the same.
fn under_subject(
    lexicons: &Lexicons,
    first_language: &str,
    answering: Answering,
    (subject, words): (&str, &str),
) -> Read {
    let below = read(lexicons, first_language, answering, words);
    let whole = read(lexicons, first_language, answering, &format!("{subject}\n\n{words}"));
    let (below_is, whole_is) = (below.verdict.reading, whole.verdict.reading);
    let hears = below_is == Reading::Unclear || whole_is.is_worrying() || whole_is == below_is;
    if hears && whole_is != Reading::Automatic { whole } else { below }
}

fn automatic(why: &str) -> Read {
    Read { verdict: Verdict::bare(Reading::Automatic), because: vec![why.to_owned()] }
}

impl std::fmt::Display for Automatic {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::AutoSubmitted => "marked as sent by a machine",
            Self::Absence => "an absence notice",
            Self::ReadReceipt => "a read receipt",
            Self::CalendarAnswer => "an answer to a calendar entry",
            Self::Bulk => "mail of a list",
            Self::MailServer => "from a mail server",
        })
    }
}

fn blank() -> Letter {
    Letter {
        from: None,
        recipients: Vec::new(),
        message_id: None,
        in_reply_to: Vec::new(),
        references: Vec::new(),
        subject: None,
        date: None,
        kind: Kind::Person,
        words: String::new(),
        subject_words: None,
        only_forwarded: false,
        is_tangled: false,
        authentication_results: Vec::new(),
    }
}

/// An answer in the subject alone: 'no marks' with nothing below, or 'Re: Second look: no marks'. A
/// subject that only repeats ours is none.
fn spoken_subject(letter: &Letter) -> Option<String> {
    let added = || {
        let (_, repeated) = letter.subject.as_deref()?.split_once(':')?;
        repeated.rsplit_once(':').map(|(_, added)| added.trim())
    };
    own_subject(letter).or_else(added).map(str::to_owned)
}

/// A subject that does not begin as that of a reply does.
fn own_subject(letter: &Letter) -> Option<&str> {
    let subject = letter.subject.as_deref()?.trim();
    let repeats = subject.split_once(':').is_some_and(|(before, _)| {
        let prefix = before.trim().to_lowercase();
        let prefix = prefix.split(['[', '(']).next().unwrap_or_default().trim().to_owned();
        prefix.chars().count() <= REPLY_PREFIX_CHARS_MAX && prefix.chars().all(char::is_alphabetic)
    });
    let says = subject.chars().any(char::is_alphanumeric);
    (!repeats && says && subject.len() <= SUBJECT_BYTES_MAX).then_some(subject)
}

/// `Re`, `AW`, `Antw`: how programs of many languages mark an answer.
const REPLY_PREFIX_CHARS_MAX: usize = 4;
/// A longer subject is no answer.
const SUBJECT_BYTES_MAX: usize = 1000;

fn first_address(address: &Address<'_>) -> Option<String> {
    address.iter().find_map(|a| a.address.as_deref()).and_then(bare_address)
}

fn bare_address(address: &str) -> Option<String> {
    let bare = address.trim().trim_matches(['<', '>']).trim().to_lowercase();
    let usable = !bare.is_empty() && bare.len() <= 320 && !bare.contains(char::is_whitespace);
    usable.then_some(bare)
}

fn recipients(message: &Message<'_>) -> Vec<String> {
    let named = message.all_to().chain(message.all_cc());
    let named =
        named.flat_map(Address::iter).filter_map(|a| a.address.as_deref()?.to_owned().into());
    let delivered = ["Delivered-To", "X-Original-To", "Envelope-To"];
    let delivered = delivered.iter().flat_map(|name| raw_headers(message, name));
    let mut out: Vec<String> = Vec::new();
    for address in named.chain(delivered).filter_map(|a: String| bare_address(&a)) {
        if !out.contains(&address) {
            out.push(address);
        }
    }
    out
}

fn ids(value: &HeaderValue<'_>) -> Vec<String> {
    let list = value.as_text_list().unwrap_or_default();
    list.iter().map(|id| id.trim().trim_matches(['<', '>']).to_owned()).collect()
}

/// All values of a header as they stand, topmost first, unfolded.
fn raw_headers(message: &Message<'_>, name: &str) -> Vec<String> {
    let Some(part) = message.parts.first() else { return Vec::new() };
    let named = part.headers.iter().filter(|h| h.name.as_str().eq_ignore_ascii_case(name));
    let values = named.filter_map(|header| {
        let (from, to) = (header.offset_start as usize, header.offset_end as usize);
        std::str::from_utf8(message.raw_message.get(from..to)?).ok()
    });
    values.map(|value| value.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

#[cfg(test)]
mod tests;
