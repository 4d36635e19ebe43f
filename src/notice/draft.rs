//! A notice before it has an address to answer to, and the finished notice.
//!
//! Never here: wording, which event says what, sending.
//! Promises: everything that is in the HTML is in the plain text too; all answers of a notice look
//! alike, so that none is nudged toward.

use std::fmt;

use super::mailto::mailto;
use super::round::RoundKind;
use super::setting::{Picture, turns_text};
use super::wording::Wording;
use super::{html, plain};
use crate::care::{ClinicianId, ContactId};

/// Who gets a notice.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Recipient {
    /// A contact of the client.
    Contact(ContactId),
    /// A clinician, by name.
    Clinician(ClinicianId),
    /// Whoever is first on cover.
    OnCover,
}

/// How soon a notice has to be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Urgency {
    /// News that may wait for the end of quiet hours.
    News,
    /// A request with a clock, or an answer that somebody waits for.
    Request,
    /// A stop or an alert: at any hour, marked as important.
    Alert,
}

/// A finished notice.
#[derive(Clone, PartialEq, Eq)]
pub struct Notice {
    /// The subject line. Mail programs join a follow-up's mails by their References header (the
    /// sender sets it); the subject names the specific thing first, for a phone's list of mails.
    pub subject: String,
    /// The plain-text part.
    pub text: String,
    /// The HTML part.
    pub html: String,
    /// The one-tap answers, in order.
    pub taps: Vec<Tap>,
    /// How soon it has to be seen.
    pub urgency: Urgency,
    /// The language's tag.
    pub language: String,
    /// The pictures that the HTML shows, by content id.
    pub pictures: Vec<Picture>,
    /// An iCalendar file (method PUBLISH) that goes with it.
    pub calendar: Option<String>,
}

/// A one-tap answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tap {
    /// What the button says.
    pub label: String,
    /// The link.
    pub mailto: String,
}

/// A notice that lacks only the address that answers go to. The sender mints a token for it and
/// finishes it.
#[derive(Clone)]
pub struct Draft {
    pub(super) subject: String,
    pub(super) reply_subject: String,
    pub(super) language: String,
    pub(super) direction: &'static str,
    pub(super) urgency: Urgency,
    pub(super) blocks: Vec<Block>,
    pub(super) calendar: Option<String>,
    pub(super) joinable: Option<Joinable>,
}

/// What a notice says as a part of a round, where it may go as one.
#[derive(Clone)]
pub(super) struct Joinable {
    pub(super) kind: RoundKind,
    /// What it asks or says, without what all parts share.
    pub(super) lines: Vec<String>,
}

/// A piece of a notice, top-down.
#[derive(Clone)]
pub(super) enum Block {
    /// What it is about, in one sentence.
    Lead(String),
    Line(String),
    Heading(String),
    Answers(Answers),
    /// What is about one client of a round.
    Part(Part),
    Table {
        head: Vec<String>,
        rows: Vec<Vec<String>>,
    },
    Ordered(Vec<String>),
    Unordered(Vec<String>),
    /// Words that somebody wrote.
    Quote {
        words: String,
        line: String,
    },
    Picture {
        picture: Picture,
        line: String,
    },
    /// Signs that must not wait.
    Urgent(String),
    /// Cautions.
    Small(String),
}

/// A group of one-tap answers.
#[derive(Clone)]
pub(super) struct Answers {
    /// Above the buttons.
    pub(super) tap: String,
    /// Above the same answers in plain text.
    pub(super) write: String,
    pub(super) answers: Vec<Answer>,
}

/// One client's part of a round, whose answers go to an address of its own.
#[derive(Clone)]
pub(super) struct Part {
    pub(super) heading: String,
    pub(super) lines: Vec<String>,
    pub(super) answers: Vec<Answer>,
    pub(super) answer_to: String,
    pub(super) reply_subject: String,
}

/// One answer.
#[derive(Clone)]
pub(super) struct Answer {
    pub(super) label: String,
    /// What the reply then says.
    pub(super) body: String,
    /// What it means, where the choices are spelled out.
    pub(super) meaning: Option<String>,
}

/// The longest passage of somebody's words that a notice repeats; more is in the record.
const QUOTE_CHARS_MAX: usize = 600;

impl Draft {
    pub(super) fn new(w: &Wording, urgency: Urgency, subject: String, reply: String) -> Self {
        Self {
            subject,
            reply_subject: reply,
            language: w.code().to_owned(),
            direction: w.direction(),
            urgency,
            blocks: Vec::new(),
            calendar: None,
            joinable: None,
        }
    }

    /// Of which kind of round it may be a part; none where it goes by itself.
    pub fn round_kind(&self) -> Option<RoundKind> {
        self.joinable.as_ref().map(|joinable| joinable.kind)
    }

    /// The notice with answers going to `reply_address`, such as `checks+TOKEN@clinic.example`.
    pub fn addressed(&self, reply_address: &str) -> Notice {
        Notice {
            subject: self.subject.clone(),
            text: self.text(),
            html: self.html(reply_address),
            taps: self.taps(reply_address),
            urgency: self.urgency,
            language: self.language.clone(),
            pictures: self.pictures().cloned().collect(),
            calendar: self.calendar.clone(),
        }
    }

    /// The subject line.
    pub fn subject(&self) -> &str {
        &self.subject
    }

    /// The plain-text part.
    pub fn text(&self) -> String {
        plain::rendered(self)
    }

    /// The HTML part, with answers going to `reply_address`.
    pub fn html(&self, reply_address: &str) -> String {
        html::rendered(self, reply_address)
    }

    /// The iCalendar file that goes with it.
    pub fn calendar(&self) -> Option<&str> {
        self.calendar.as_deref()
    }

    /// The pictures that the HTML part shows.
    pub fn pictures(&self) -> impl Iterator<Item = &Picture> {
        self.blocks.iter().filter_map(|block| match block {
            Block::Picture { picture, .. } => Some(picture),
            Block::Lead(_)
            | Block::Line(_)
            | Block::Heading(_)
            | Block::Answers(_)
            | Block::Part(_)
            | Block::Table { .. }
            | Block::Ordered(_)
            | Block::Unordered(_)
            | Block::Quote { .. }
            | Block::Urgent(_)
            | Block::Small(_) => None,
        })
    }

    /// How soon it has to be seen.
    pub fn urgency(&self) -> Urgency {
        self.urgency
    }

    pub(super) fn link(&self, reply_address: &str, answer: &Answer) -> String {
        mailto(reply_address, &self.reply_subject, &answer.body)
    }

    fn taps(&self, reply_address: &str) -> Vec<Tap> {
        let of_block = |block: &Block| {
            let tap = |answer: &Answer| {
                let mailto = if let Block::Part(part) = block {
                    part.link(answer)
                } else {
                    self.link(reply_address, answer)
                };
                Tap { label: answer.label.clone(), mailto }
            };
            block.answers().iter().map(tap).collect::<Vec<_>>()
        };
        self.blocks.iter().flat_map(of_block).collect()
    }

    /// All answers, in order.
    pub(super) fn answers(&self) -> impl Iterator<Item = &Answer> {
        self.blocks.iter().flat_map(Block::answers)
    }

    /// What it says so far, without headings and the like.
    pub(super) fn lines(&self) -> impl Iterator<Item = &str> {
        self.blocks.iter().filter_map(|block| {
            let (Block::Lead(text) | Block::Line(text)) = block else { return None };
            Some(text.as_str())
        })
    }

    pub(super) fn lead(&mut self, text: String) {
        self.blocks.push(Block::Lead(text));
    }

    pub(super) fn line(&mut self, text: String) {
        self.blocks.push(Block::Line(text));
    }

    pub(super) fn heading(&mut self, text: String) {
        self.blocks.push(Block::Heading(text));
    }

    pub(super) fn small(&mut self, text: String) {
        self.blocks.push(Block::Small(text));
    }

    pub(super) fn quote(&mut self, w: &Wording, words: &str) {
        let words = quotable(words);
        let line = w.frame_quote(&words);
        self.blocks.push(Block::Quote { words, line });
    }

    pub(super) fn push(&mut self, block: Block) {
        self.blocks.push(block);
    }
}

impl Block {
    /// The answers that it offers.
    fn answers(&self) -> &[Answer] {
        match self {
            Self::Answers(group) => &group.answers,
            Self::Part(part) => &part.answers,
            Self::Lead(_)
            | Self::Line(_)
            | Self::Heading(_)
            | Self::Table { .. }
            | Self::Ordered(_)
            | Self::Unordered(_)
            | Self::Quote { .. }
            | Self::Picture { .. }
            | Self::Urgent(_)
            | Self::Small(_) => &[],
        }
    }
}

impl Part {
    pub(super) fn link(&self, answer: &Answer) -> String {
        mailto(&self.answer_to, &self.reply_subject, &answer.body)
    }
}

/// Somebody's words without what acts instead of showing, cut where they are very long.
fn quotable(words: &str) -> String {
    let shown: String =
        words.chars().filter(|c| *c == '\n' || !(c.is_control() || turns_text(*c))).collect();
    let shown = shown.trim();
    match shown.char_indices().nth(QUOTE_CHARS_MAX) {
        Some((end, _)) => format!("{}…", shown[..end].trim_end()),
        None => shown.to_owned(),
    }
}

impl fmt::Debug for Draft {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Draft").field("urgency", &self.urgency).finish_non_exhaustive()
    }
}

impl fmt::Debug for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Notice").field("urgency", &self.urgency).finish_non_exhaustive()
    }
}
