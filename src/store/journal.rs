//! The journal as it is read, traced and verified.
//!
//! Never here: adding entries (that is a change of a follow-up), what an entry means.
//! Promises: an entry reads as it was written; verifying notices any entry or occasion that was
//! changed, removed, added or moved by other means than ours.

use std::collections::HashMap;

use super::chain::{self, Digest, Link};
use super::database::{self, OptionalExtension, Row, params};
use super::entry_text;
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, JournalSeq, OccasionId, from_ms, to_ms};
use super::view::View;
use crate::care::ClientRef;
use crate::follow_up::{Entry, Instant};

/// An entry in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JournalLine {
    /// Its place in the whole journal.
    pub seq: JournalSeq,
    /// The follow-up that it belongs to.
    pub follow_up: FollowUpId,
    /// Its place in the follow-up's own journal, counted from 1.
    pub number: u64,
    /// The rule that it followed when it was written.
    pub rule: String,
    /// What made it.
    pub occasion: OccasionId,
    /// The fact and its time.
    pub entry: Entry,
    /// The hash that covers it and all entries before it.
    pub hash: Digest,
}

/// Something in the journal that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Tampering {
    /// An entry, or the occasion behind it, is not what its hash covers.
    #[error("entry {number} of follow-up {follow_up} is not as it was written")]
    Changed {
        /// The follow-up.
        follow_up: FollowUpId,
        /// The entry's number.
        number: u64,
    },
    /// An entry is missing, or stands where another should.
    #[error("follow-up {follow_up} has entry {found} where entry {expected} should stand")]
    OutOfOrder {
        /// The follow-up.
        follow_up: FollowUpId,
        /// The number that should stand there.
        expected: u64,
        /// The number that does.
        found: u64,
    },
    /// The journal of a follow-up does not end where the follow-up says.
    #[error("the journal of follow-up {follow_up} ends at entry {found}, not at entry {expected}")]
    WrongEnd {
        /// The follow-up.
        follow_up: FollowUpId,
        /// Where the follow-up says that it ends.
        expected: u64,
        /// Where it ends.
        found: u64,
    },
}

/// What verifying found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verification {
    /// How many entries were read.
    pub entries: u64,
    /// The first finding of each follow-up that has one, by follow-up; empty when all is well.
    pub findings: Vec<Tampering>,
}

impl View<'_> {
    /// The whole journal of a follow-up, oldest first.
    ///
    /// # Errors
    /// When there is no such follow-up, or an entry cannot be read.
    pub fn journal_of(&self, follow_up: FollowUpId) -> Result<Vec<JournalLine>, StoreError> {
        self.journal_tail(follow_up, u64::MAX)
    }

    /// The newest entries of a follow-up, at most `limit`, oldest first.
    ///
    /// # Errors
    /// When there is no such follow-up, or an entry cannot be read.
    pub fn journal_tail(
        &self,
        follow_up: FollowUpId,
        limit: u64,
    ) -> Result<Vec<JournalLine>, StoreError> {
        let head = self.row(follow_up)?.head;
        let mut next = head.last.map(JournalSeq::number);
        let mut lines = Vec::new();
        while let Some(seq) = next {
            if lines.len() as u64 >= limit {
                break;
            }
            let kept = self.kept_line(seq)?;
            if kept.follow_up != follow_up.number() {
                return Err(StoreError::unreadable("journal entry", seq));
            }
            next = kept.previous;
            lines.push(kept.line()?);
        }
        lines.reverse();
        Ok(lines)
    }

    /// When the newest entry of a follow-up happened; none before its enrolment. Every act asks
    /// for it, so the entry itself is not read.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn last_entry_at(&self, follow_up: FollowUpId) -> Result<Option<Instant>, StoreError> {
        let ms: Option<i64> = self
            .connection
            .prepare_cached(
                "SELECT j.at_utc_ms FROM follow_up f JOIN journal j ON j.seq = f.last_entry
                 WHERE f.id = ?1",
            )
            .and_then(|mut select| {
                select.query_one([follow_up.number()], |row| row.get(0)).optional()
            })
            .doing("reading the journal")?;
        ms.map(from_ms).transpose()
    }

    /// Follow-ups that have not ended whose newest entry happened after an instant, and when it did.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn running_with_entries_after(
        &self,
        at: Instant,
    ) -> Result<Vec<(FollowUpId, Instant)>, StoreError> {
        let found: Vec<(i64, i64)> = self
            .connection
            .prepare_cached(
                "SELECT f.id, j.at_utc_ms FROM follow_up f JOIN journal j ON j.seq = f.last_entry
                 WHERE f.standing <> 'closed' AND j.at_utc_ms > ?1 ORDER BY f.id",
            )
            .and_then(|mut select| {
                select.query_all([to_ms(at)], |row| Ok((row.get(0)?, row.get(1)?)))
            })
            .doing("reading the journal")?;
        let each = |(id, ms)| Ok((FollowUpId::from_number(id), from_ms(ms)?));
        found.into_iter().map(each).collect()
    }

    /// The entries of all follow-ups after a place in the whole journal, oldest first, at most
    /// `limit`; begin with none. For one who watches the service at work.
    ///
    /// # Errors
    /// When an entry cannot be read.
    pub fn journal_since(
        &self,
        after: Option<JournalSeq>,
        limit: u32,
    ) -> Result<Vec<JournalLine>, StoreError> {
        let after = after.map_or(0, JournalSeq::number);
        self.connection
            .prepare_cached(&format!(
                "SELECT {KEPT_LINE} FROM journal WHERE seq > ?1 ORDER BY seq LIMIT ?2"
            ))
            .and_then(|mut select| select.query_all(params![after, limit], KeptLine::of))
            .doing("reading the journal")?
            .into_iter()
            .map(KeptLine::line)
            .collect()
    }

    /// One entry by its place, for tracing a mail to its cause.
    ///
    /// # Errors
    /// When there is none, or it cannot be read.
    pub fn journal_line(&self, seq: JournalSeq) -> Result<JournalLine, StoreError> {
        self.kept_line(seq.number())?.line()
    }

    /// Reads the whole journal and checks every hash, every link and every end.
    ///
    /// # Errors
    /// When the database refuses; findings are not errors.
    pub fn verify_journal(&self) -> Result<Verification, StoreError> {
        let doing = "verifying the journal";
        let mut chains = self.chains()?;
        let mut entries = 0;
        let mut select = self
            .connection
            .prepare(
                "SELECT j.follow_up, j.number, j.at_utc_ms, j.rule, j.body, j.hash, j.seq,
                   j.previous, o.kind, o.at_utc_ms, o.detail
                 FROM journal j LEFT JOIN occasion o ON o.id = j.occasion ORDER BY j.seq",
            )
            .doing(doing)?;
        select
            .query_each((), |row| {
                entries += 1;
                match chains.get_mut(&row.get::<i64>(0)?) {
                    Some(chain) if chain.finding.is_none() => chain.take(row),
                    _ => Ok(()),
                }
            })
            .doing(doing)?;
        drop(select);
        let mut findings: Vec<_> = chains.into_values().filter_map(|chain| chain.ended()).collect();
        findings.sort_by_key(|(follow_up, _)| *follow_up);
        let findings = findings.into_iter().map(|(_, finding)| finding).collect();
        Ok(Verification { entries, findings })
    }

    fn kept_line(&self, seq: i64) -> Result<KeptLine, StoreError> {
        self.connection
            .prepare_cached(&format!("SELECT {KEPT_LINE} FROM journal WHERE seq = ?1"))
            .and_then(|mut select| select.query_one(params![seq], KeptLine::of))
            .doing("reading the journal")
    }

    fn chains(&self) -> Result<HashMap<i64, Chain>, StoreError> {
        let rows = self
            .connection
            .prepare("SELECT id, client_ref, entries, last_hash, last_entry FROM follow_up")
            .and_then(|mut select| {
                select.query_all((), |row| {
                    let end = End { entries: row.get::<i64>(2)? as u64, hash: row.get(3)? };
                    Ok((row.get::<i64>(0)?, row.get::<String>(1)?, end))
                })
            })
            .doing("verifying the journal")?;
        rows.into_iter()
            .map(|(id, client, end)| {
                let client = ClientRef::new(&client)
                    .map_err(|_| StoreError::unreadable("the client of follow-up", id))?;
                let hash = chain::root(&client);
                let follow_up = FollowUpId::from_number(id);
                let chain = Chain { follow_up, number: 0, last: None, hash, end, finding: None };
                Ok((id, chain))
            })
            .collect()
    }
}

/// The columns that `KeptLine::of` reads.
const KEPT_LINE: &str = "seq, follow_up, number, previous, rule, occasion, body, hash, at_utc_ms";

/// A row of the journal, with its entry not yet decoded.
struct KeptLine {
    seq: i64,
    follow_up: i64,
    number: i64,
    previous: Option<i64>,
    rule: String,
    occasion: i64,
    body: Vec<u8>,
    hash: [u8; 32],
    at_ms: i64,
}

impl KeptLine {
    fn of(row: &Row<'_>) -> database::Result<Self> {
        Ok(Self {
            seq: row.get(0)?,
            follow_up: row.get(1)?,
            number: row.get(2)?,
            previous: row.get(3)?,
            rule: row.get(4)?,
            occasion: row.get(5)?,
            body: row.get(6)?,
            hash: row.get(7)?,
            at_ms: row.get(8)?,
        })
    }

    fn line(self) -> Result<JournalLine, StoreError> {
        let entry = entry_text::read(&self.body, from_ms(self.at_ms)?).map_err(|source| {
            StoreError::Unreadable {
                what: "journal entry",
                id: self.seq.to_string(),
                source: Some(source),
            }
        })?;
        Ok(JournalLine {
            seq: JournalSeq::from_number(self.seq),
            follow_up: FollowUpId::from_number(self.follow_up),
            number: self.number as u64,
            rule: self.rule,
            occasion: OccasionId::from_number(self.occasion),
            entry,
            hash: Digest::kept(self.hash),
        })
    }
}

/// Where a follow-up says that its journal ends.
struct End {
    entries: u64,
    hash: [u8; 32],
}

/// The chain of one follow-up while it is read.
struct Chain {
    follow_up: FollowUpId,
    number: u64,
    last: Option<i64>,
    hash: Digest,
    end: End,
    finding: Option<Tampering>,
}

impl Chain {
    fn take(&mut self, row: &Row<'_>) -> database::Result<()> {
        let follow_up = self.follow_up;
        let number = row.get::<i64>(1)? as u64;
        let expected = self.number + 1;
        if number != expected {
            self.finding = Some(Tampering::OutOfOrder { follow_up, expected, found: number });
            return Ok(());
        }
        let seq: i64 = row.get(6)?;
        let previous: Option<i64> = row.get(7)?;
        let kept = Digest::kept(row.get(5)?);
        if previous != self.last || self.hash_of(row, number)? != Some(kept) {
            self.finding = Some(Tampering::Changed { follow_up, number });
            return Ok(());
        }
        (self.number, self.last, self.hash) = (number, Some(seq), kept);
        Ok(())
    }

    fn hash_of(&self, row: &Row<'_>, number: u64) -> database::Result<Option<Digest>> {
        let Some(kind) = row.get::<Option<String>>(8)? else { return Ok(None) };
        let (at_ms, detail): (i64, String) = (row.get(9)?, row.get(10)?);
        let (rule, body): (String, Vec<u8>) = (row.get(3)?, row.get(4)?);
        let link = Link {
            number,
            at_ms: row.get(2)?,
            rule: &rule,
            occasion: chain::of_occasion(&kind, at_ms, &detail),
            body: &body,
        };
        Ok(Some(chain::next(&self.hash, &link)))
    }

    fn ended(self) -> Option<(FollowUpId, Tampering)> {
        let follow_up = self.follow_up;
        let finding = self.finding.or_else(|| {
            let at_end = self.number == self.end.entries && *self.hash.bytes() == self.end.hash;
            (!at_end).then_some(Tampering::WrongEnd {
                follow_up,
                expected: self.end.entries,
                found: self.number,
            })
        });
        finding.map(|finding| (follow_up, finding))
    }
}
