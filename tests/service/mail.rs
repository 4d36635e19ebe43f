//! People with mailboxes: what they got, and the replies that they write.
//!
//! Never here: what a reply leads to.
//! Promises: a person finds only mail to their own address; a reply goes where the mail program
//! of a person would send it, quotes and all.

use std::collections::HashMap;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use mail_parser::{Message, MessageParser};

use crate::peers::Peers;
use crate::submission;

/// The longest wait for a mail: the next minute for a sitting to begin, its own minute, and some
/// time for a busy machine.
const PATIENCE: Duration = Duration::from_secs(200);

/// A person with an address of their own inside one of the test server's mailboxes.
pub struct Person<'p> {
    peers: &'p Peers,
    user: &'static str,
    /// The whole address.
    pub address: String,
    seen: Mutex<HashMap<String, Mail>>,
}

/// A mail as a person finds it.
#[derive(Clone)]
pub struct Mail {
    /// Its bytes.
    pub raw: Vec<u8>,
    /// The subject.
    pub subject: String,
    /// The plain text.
    pub text: String,
    /// Where an answer goes.
    pub reply_to: String,
    /// What tells it from all others; without brackets.
    pub id: String,
    /// The name of its file.
    pub file: String,
}

impl<'p> Person<'p> {
    /// `name` tells the person from all others in the mailbox of `user`.
    pub fn new(peers: &'p Peers, user: &'static str, name: &str) -> Self {
        let address = peers.address(&format!("{user}+{name}"));
        Self { peers, user, address, seen: Mutex::default() }
    }

    /// All mail that has come to this person, in the order of arrival.
    pub fn mails(&self) -> Vec<Mail> {
        let mut seen = self.seen.lock().unwrap();
        for part in ["new", "cur"] {
            let folder = self.peers.maildir(self.user).join(part);
            let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
            for entry in entries {
                let file = entry.file_name().to_string_lossy().into_owned();
                if seen.contains_key(&file) {
                    continue;
                }
                if let Ok(raw) = std::fs::read(entry.path()) {
                    seen.insert(file.clone(), Mail::read(file, raw));
                }
            }
        }
        let mine = format!("Delivered-To: {}\n", self.address);
        let mut mails: Vec<Mail> = seen
            .values()
            .filter(|mail| String::from_utf8_lossy(&mail.raw).contains(&mine))
            .cloned()
            .collect();
        // The names of files begin with the time of arrival, down to microseconds.
        mails.sort_by_key(|mail| arrival(&mail.file));
        mails
    }

    /// All mail with these words in its subject or text.
    pub fn mails_with(&self, words: &str) -> Vec<Mail> {
        let says = |mail: &Mail| mail.subject.contains(words) || mail.text.contains(words);
        self.mails().into_iter().filter(says).collect()
    }

    /// Waits for a mail with these words; the first one that came.
    pub fn await_mail(&self, words: &str) -> Mail {
        self.await_mails(words, 1).remove(0)
    }

    /// Waits until that many mails with these words have come.
    pub fn await_mails(&self, words: &str, count: usize) -> Vec<Mail> {
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            let found = self.mails_with(words);
            if found.len() >= count {
                return found;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        let all: Vec<String> = self.mails().into_iter().map(|mail| mail.subject).collect();
        panic!("no {count} mails with “{words}” came to {}, but {all:?}", self.address);
    }

    /// Answers a mail in these words, as a mail program would: with the mail quoted below.
    pub fn reply(&self, to: &Mail, words: &str) -> Vec<u8> {
        let raw = self.draft_reply(to, words);
        self.send(&to.reply_to, &raw);
        raw
    }

    /// The answer, not sent.
    pub fn draft_reply(&self, to: &Mail, words: &str) -> Vec<u8> {
        let quoted: String = to.text.lines().map(|line| format!("> {line}\r\n")).collect();
        let body = words.replace('\n', "\r\n");
        let key = words.bytes().fold(7u64, |key, byte| key.wrapping_mul(31) + u64::from(byte));
        format!(
            "From: Somebody <{from}>\r\nTo: <{to}>\r\nSubject: Re: {subject}\r\n\
             Date: {date}\r\nMessage-ID: <{key:x}.{id}>\r\nIn-Reply-To: <{id}>\r\n\
             MIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n\
             Content-Transfer-Encoding: 8bit\r\n\r\n\
             {body}\r\n\r\nOn {day}, Checks <{to}> wrote:\r\n{quoted}",
            from = self.address,
            to = to.reply_to,
            subject = encoded(&to.subject),
            date = chrono::Utc::now().to_rfc2822(),
            day = chrono::Utc::now().format("%a, %-d %b %Y at %H:%M"),
            id = to.id,
        )
        .into_bytes()
    }

    /// Sends a mail from this person's own address.
    pub fn send(&self, to: &str, raw: &[u8]) {
        submission::send(self.peers, &self.address, to, raw);
    }
}

impl Mail {
    /// Reads a file of a mailbox.
    pub fn read(file: String, raw: Vec<u8>) -> Self {
        let message = MessageParser::default().parse(&raw).unwrap_or_default();
        let reply_to = message.reply_to().and_then(|to| to.first()).and_then(|to| to.address());
        let mail = Self {
            subject: message.subject().unwrap_or_default().to_owned(),
            text: text(&message),
            reply_to: reply_to.unwrap_or_default().to_owned(),
            id: message.message_id().unwrap_or_default().to_owned(),
            raw: Vec::new(),
            file,
        };
        Self { raw, ..mail }
    }
}

fn text(message: &Message<'_>) -> String {
    message.body_text(0).unwrap_or_default().into_owned()
}

/// Seconds and microseconds of arrival, from `SECONDS.V..I..M<microseconds>.host`.
pub fn arrival(file: &str) -> (u64, u64) {
    let mut parts = file.split('.');
    let number = |text: Option<&str>| text.and_then(|text| text.parse().ok()).unwrap_or(0);
    let seconds = number(parts.next());
    let micros = parts.next().and_then(|part| part.rsplit('M').next());
    (seconds, number(micros))
}

/// A header's text for words beyond ASCII (RFC 2047).
fn encoded(text: &str) -> String {
    if text.is_ascii() {
        return text.to_owned();
    }
    let hex: String = text.bytes().map(|byte| format!("={byte:02X}")).collect();
    format!("=?utf-8?Q?{hex}?=")
}
