//! What lies in the folder, and the mails themselves, in portions that fit into memory.
//!
//! Never here: handing over, marking.
//! Promises: a portion holds at most [`PORTION_MAILS`] mails and, unless it is one mail alone,
//! [`PORTION_BYTES`] bytes; no answer is read beyond what was asked for.

use std::collections::HashMap;
use std::time::Duration;

use async_imap::imap_proto::{AttributeValue, MailboxDatum, MessageSection, Response, SectionPath};
use chrono::{DateTime, Utc};

use super::super::connectivity::Trouble;
use super::super::wire::Fault;
use super::link::{Ending, Link};
use super::taking::KEYWORD;
use super::{HEAD_BYTES_MAX, WHOLE_MAIL_BYTES_MAX};

/// Mails fetched at once.
pub(super) const PORTION_MAILS: usize = 50;
/// Bytes fetched at once, but for a mail that is larger alone.
const PORTION_BYTES: u64 = 4 * 1024 * 1024;
/// A line this slow still gets its mails: the limit for a portion grows with its size.
const BYTES_PER_SECOND_MIN: u64 = 32 * 1024;

/// A mail in the folder, without its content.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Listed {
    /// Its number.
    pub uid: u32,
    /// Its size as the server tells it.
    pub size_bytes: u32,
    /// When the server received it.
    pub received_at: Option<DateTime<Utc>>,
    /// Whether it bears our mark.
    pub is_processed: bool,
}

impl Listed {
    /// Whether only its head is to be fetched.
    pub fn is_too_large(&self) -> bool {
        self.size_bytes > WHOLE_MAIL_BYTES_MAX
    }
}

/// Lists the mails from one number to another (none: to the last), in order.
pub(super) async fn list(
    link: &mut Link,
    from: u32,
    to: Option<u32>,
) -> Result<Vec<Listed>, Fault> {
    let end = to.map_or_else(|| "*".to_owned(), |to| to.to_string());
    let command = format!("UID FETCH {from}:{end} (UID RFC822.SIZE INTERNALDATE FLAGS)");
    let mut found: HashMap<u32, Listed> = HashMap::new();
    link.demand(&command, Trouble::Protocol, |response| {
        if let Response::Fetch(_, attributes) = response
            && let Some(listed) = listed(attributes)
        {
            // `n:*` always matches the last mail, even when its number is below `n`.
            let wanted = listed.uid >= from && to.is_none_or(|to| listed.uid <= to);
            if wanted {
                found.insert(listed.uid, listed);
            }
        }
    })
    .await?;
    let mut found: Vec<_> = found.into_values().collect();
    found.sort_by_key(|listed| listed.uid);
    Ok(found)
}

/// Splits off the next portion; of one mail when `one_by_one`.
pub(super) fn portion(listed: &[Listed], one_by_one: bool) -> usize {
    let mut bytes = 0;
    let fitting = listed.iter().take(PORTION_MAILS).take_while(|mail| {
        bytes += u64::from(mail.size_bytes.min(WHOLE_MAIL_BYTES_MAX));
        bytes <= PORTION_BYTES && !mail.is_too_large()
    });
    if one_by_one { 1.min(listed.len()) } else { fitting.count().max(1).min(listed.len()) }
}

/// Fetches the mails of one portion (of too large ones, the head). A mail that has vanished
/// meanwhile is missing from the answer.
pub(super) async fn fetch(
    link: &mut Link,
    mails: &[Listed],
) -> Result<HashMap<u32, Vec<u8>>, Fault> {
    let head_only = mails.iter().any(Listed::is_too_large);
    // Asking for a part of known length bounds the answer, whatever size the server told before.
    let what = if head_only {
        format!("BODY.PEEK[HEADER]<0.{HEAD_BYTES_MAX}>")
    } else {
        format!("BODY.PEEK[]<0.{WHOLE_MAIL_BYTES_MAX}>")
    };
    let command = format!("UID FETCH {} (UID {what})", uid_set(mails));
    let bytes: u64 = mails.iter().map(|m| u64::from(m.size_bytes.min(WHOLE_MAIL_BYTES_MAX))).sum();
    let limit = link.limit() + Duration::from_secs(bytes / BYTES_PER_SECOND_MIN);
    let mut found = HashMap::new();
    let ending = link
        .command(&command, limit, |response| {
            if let Response::Fetch(_, attributes) = response
                && let (Some(uid), Some(content)) = (uid(attributes), content(attributes))
                && mails.iter().any(|mail| mail.uid == uid)
            {
                found.insert(uid, content.to_vec());
            }
        })
        .await?;
    match ending {
        Ending::Done => Ok(found),
        Ending::Refused(words) => Err(Fault::new(Trouble::Protocol, words)),
    }
}

/// Whether the mail is still in the folder.
pub(super) async fn is_there(link: &mut Link, uid: u32) -> Result<bool, Fault> {
    let mut found = false;
    link.demand(&format!("UID SEARCH UID {uid}"), Trouble::Protocol, |response| {
        if let Response::MailboxData(MailboxDatum::Search(uids)) = response {
            found |= uids.contains(&uid);
        }
    })
    .await?;
    Ok(found)
}

/// The numbers as the protocol writes a set of them.
pub(super) fn uid_set(mails: &[Listed]) -> String {
    let numbers: Vec<_> = mails.iter().map(|mail| mail.uid.to_string()).collect();
    numbers.join(",")
}

fn uid(attributes: &[AttributeValue<'_>]) -> Option<u32> {
    attributes.iter().find_map(|attribute| match attribute {
        AttributeValue::Uid(uid) => Some(*uid),
        _ => None,
    })
}

fn content<'a>(attributes: &'a [AttributeValue<'_>]) -> Option<&'a [u8]> {
    let header = SectionPath::Full(MessageSection::Header);
    attributes.iter().find_map(|attribute| match attribute {
        AttributeValue::BodySection { section, data: Some(data), .. }
            if section.as_ref().is_none_or(|path| *path == header) =>
        {
            Some(data.as_ref())
        }
        _ => None,
    })
}

/// A list entry, if the response holds all of it; servers also send flags alone, unasked.
fn listed(attributes: &[AttributeValue<'_>]) -> Option<Listed> {
    let (mut size, mut received_at, mut is_processed) = (None, None, false);
    for attribute in attributes {
        match attribute {
            AttributeValue::Rfc822Size(bytes) => size = Some(*bytes),
            AttributeValue::InternalDate(text) => received_at = internal_date(text),
            AttributeValue::Flags(flags) => {
                is_processed = flags.iter().any(|f| f.eq_ignore_ascii_case(KEYWORD));
            }
            _ => {}
        }
    }
    Some(Listed { uid: uid(attributes)?, size_bytes: size?, received_at, is_processed })
}

/// RFC 3501, `date-time`; the day may be padded with a space.
fn internal_date(text: &str) -> Option<DateTime<Utc>> {
    let read = DateTime::parse_from_str(text.trim(), "%d-%b-%Y %H:%M:%S %z").ok()?;
    Some(read.with_timezone(&Utc))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mails(sizes: &[u32]) -> Vec<Listed> {
        let listed = |(at, &size_bytes): (usize, &u32)| Listed {
            uid: at as u32 + 1,
            size_bytes,
            received_at: None,
            is_processed: false,
        };
        sizes.iter().enumerate().map(listed).collect()
    }

    #[test]
    fn a_portion_is_bounded_in_mails_and_bytes_but_never_empty() {
        const MIB: u32 = 1024 * 1024;
        assert_eq!(portion(&mails(&[10; 200]), false), PORTION_MAILS);
        assert_eq!(portion(&mails(&[10; 200]), true), 1);
        assert_eq!(portion(&mails(&[MIB, MIB, MIB, MIB, MIB]), false), 4);
        assert_eq!(portion(&mails(&[20 * MIB, 10]), false), 1);
        assert_eq!(portion(&mails(&[10, 30 * MIB, 10]), false), 1);
        assert_eq!(portion(&mails(&[30 * MIB, 10]), false), 1);
        assert_eq!(portion(&[], false), 0);
    }

    #[test]
    fn the_time_of_receipt_is_read_in_both_paddings() {
        let first = internal_date(" 5-Mar-2026 06:07:08 +0100").unwrap();
        assert_eq!(first.to_rfc3339(), "2026-03-05T05:07:08+00:00");
        assert_eq!(internal_date("05-Mar-2026 06:07:08 +0100"), Some(first));
        assert_eq!(internal_date("yesterday"), None);
    }
}
