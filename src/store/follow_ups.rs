//! Follow-ups: enrolled, loaded, changed, and found by what is due.
//!
//! Never here: what an entry means, when a look is due.
//! Promises: entries, state and due time change together or not at all; a change worked out on
//! older entries is refused; a reference is enrolled once.

use super::chain::{self, Digest};
use super::changes::{After, Change, Head, Loaded};
use super::database::{self, OptionalExtension, Row, params};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, JournalSeq, from_ms, to_ms};
use super::occasions::{KeptOccasion, OccasionRecord};
use super::snapshot;
use super::view::{Tx, View};
use crate::care::{ClientRef, PlanVersion};
use crate::follow_up::{Entry, Event, Instant, State};

/// The journal places of the entries that a change has added.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Appended {
    first: i64,
    count: usize,
}

impl Appended {
    /// The place of an entry, by its place among the change's entries, counted from 0.
    pub fn seq(&self, entry: usize) -> Option<JournalSeq> {
        (entry < self.count).then(|| JournalSeq::from_number(self.first + entry as i64))
    }
}

/// A client that is to be enrolled.
#[derive(Clone, Debug)]
pub struct Enrolment<'a> {
    /// The clinic's reference, unique in the store.
    pub client: &'a ClientRef,
    /// Who enrolled, and from what; kept as the occasion.
    pub occasion: &'a OccasionRecord,
    /// The first entries.
    pub entries: &'a [Entry],
    /// The state that they make.
    pub state: &'a State,
    /// What is due first.
    pub next_due: Option<Instant>,
}

impl Tx<'_> {
    /// Enrols a client. The plan's version must have been added.
    ///
    /// # Errors
    /// When the reference is taken, the plan version unknown, or the database refuses.
    pub fn enroll(&mut self, enrolment: &Enrolment<'_>) -> Result<FollowUpId, StoreError> {
        let Enrolment { client, occasion, entries, state, next_due } = *enrolment;
        if self.follow_up_of(client)?.is_some() {
            return Err(StoreError::DuplicateClient { client: client.clone() });
        }
        self.plan(&state.terms.plan)?;
        let hash = chain::root(client);
        let id = self
            .connection
            .prepare_cached(
                "INSERT INTO follow_up (client_ref, plan, enrolled_at_utc_ms, entries, last_hash,
                   standing, alert, state_format, state)
                 VALUES (?1, ?2, ?3, 0, ?4, 'open', 'none', 0, ?5)",
            )
            .and_then(|mut insert| {
                insert.insert(
                    "id",
                    params![
                        client.as_str(),
                        state.terms.plan.as_str(),
                        to_ms(occasion.at),
                        hash.bytes(),
                        [].as_slice(),
                    ],
                )
            })
            .map(FollowUpId::from_number)
            .doing("enrolling a client")?;
        let head = Head { entries: 0, last: None, hash };
        let kept = self.add_occasion(occasion)?;
        self.append(&Change::new(id, head, occasion, entries, state, next_due), kept)?;
        Ok(id)
    }

    /// Writes a change, which the occasion that it was worked out for has made.
    ///
    /// # Errors
    /// `MovedOn` when entries were added since the change was worked out: load again.
    ///
    /// # Panics
    /// When the occasion is another than the one that the change was worked out for: our bug.
    pub fn append(
        &mut self,
        change: &Change,
        occasion: KeptOccasion,
    ) -> Result<Appended, StoreError> {
        assert_eq!(change.occasion, occasion.digest, "a change belongs to its own occasion");
        self.check_still_at(change)?;
        let mut last = change.on.last.map(JournalSeq::number);
        let mut first = None;
        let doing = "adding to the journal";
        let mut insert = self
            .connection
            .prepare_cached(
                "INSERT INTO journal
                   (follow_up, number, previous, at_utc_ms, rule, occasion, body, hash)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )
            .doing(doing)?;
        for link in &change.links {
            let seq = insert
                .insert(
                    "seq",
                    params![
                        change.follow_up.number(),
                        link.number as i64,
                        last,
                        link.at_ms,
                        link.rule,
                        occasion.id.number(),
                        link.body,
                        link.hash.bytes(),
                    ],
                )
                .doing(doing)?;
            first.get_or_insert(seq);
            last = Some(seq);
        }
        drop(insert);
        self.settle(change, last)?;
        Ok(Appended { first: first.unwrap_or(0), count: change.links.len() })
    }

    fn check_still_at(&self, change: &Change) -> Result<(), StoreError> {
        let (found, hash) = self
            .connection
            .prepare_cached("SELECT entries, last_hash FROM follow_up WHERE id = ?1")
            .and_then(|mut select| {
                select
                    .query_one([change.follow_up.number()], |row| {
                        Ok((row.get::<i64>(0)? as u64, row.get::<[u8; 32]>(1)?))
                    })
                    .optional()
            })
            .doing("adding to the journal")?
            .ok_or(StoreError::UnknownFollowUp { follow_up: change.follow_up })?;
        if (found, Digest::kept(hash)) != (change.on.entries, change.on.hash) {
            return Err(StoreError::MovedOn {
                follow_up: change.follow_up,
                expected: change.on.entries,
                found,
            });
        }
        Ok(())
    }

    fn settle(&self, change: &Change, last: Option<i64>) -> Result<(), StoreError> {
        let after = &change.after;
        let entries = change.on.entries + change.links.len() as u64;
        let hash = change.end();
        self.connection
            .prepare_cached(
                "UPDATE follow_up SET plan = ?2, entries = ?3, last_entry = ?4, last_hash = ?5,
                   next_due_at_utc_ms = ?6, standing = ?7, step = ?8, alert = ?9,
                   state_format = ?10, state = ?11
                 WHERE id = ?1",
            )
            .and_then(|mut update| {
                update.execute(params![
                    change.follow_up.number(),
                    after.plan.as_str(),
                    entries as i64,
                    last,
                    hash.bytes(),
                    after.next_due_ms,
                    after.standing,
                    after.step,
                    after.alert,
                    snapshot::FORMAT,
                    after.state,
                ])
            })
            .map(|_| ())
            .doing("keeping a follow-up's state")?;
        self.keep_chapters(change)
    }

    /// Keeps the chapters of a past that are new, in the place of those that are no longer.
    fn keep_chapters(&self, change: &Change) -> Result<(), StoreError> {
        let After { chapters_kept, chapters, .. } = &change.after;
        if chapters.is_empty() {
            return Ok(());
        }
        let (follow_up, doing) = (change.follow_up.number(), "keeping a follow-up's past");
        self.connection
            .prepare_cached("DELETE FROM chapter WHERE follow_up = ?1 AND number >= ?2")
            .and_then(|mut delete| delete.execute(params![follow_up, *chapters_kept as i64]))
            .doing(doing)?;
        let mut insert = self
            .connection
            .prepare_cached("INSERT INTO chapter (follow_up, number, body) VALUES (?1, ?2, ?3)")
            .doing(doing)?;
        for (number, chapter) in (*chapters_kept..).zip(chapters) {
            insert.execute(params![follow_up, number as i64, chapter.bytes()]).doing(doing)?;
        }
        Ok(())
    }
}

impl View<'_> {
    /// The follow-up of a client, where one is enrolled under the reference.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn follow_up_of(&self, client: &ClientRef) -> Result<Option<FollowUpId>, StoreError> {
        self.connection
            .prepare_cached("SELECT id FROM follow_up WHERE client_ref = ?1")
            .and_then(|mut select| {
                select
                    .query_one([client.as_str()], |row| row.get(0).map(FollowUpId::from_number))
                    .optional()
            })
            .doing("looking a client up")
    }

    /// Loads a follow-up. Where its stored state was written by another version of the program,
    /// the state is rebuilt from the journal.
    ///
    /// # Errors
    /// When there is no such follow-up, or neither state nor journal can be read.
    pub fn load(&self, follow_up: FollowUpId) -> Result<Loaded, StoreError> {
        self.load_unless_known(follow_up, |_| None)
    }

    /// As `load`; where the caller knows the state at the end of the journal that the follow-up has,
    /// the stored one is not read.
    ///
    /// # Errors
    /// As `load`.
    pub fn load_unless_known(
        &self,
        follow_up: FollowUpId,
        known: impl FnOnce(&Head) -> Option<State>,
    ) -> Result<Loaded, StoreError> {
        let row = self.row(follow_up)?;
        if let Some(state) = known(&row.head) {
            return Ok(row.loaded(follow_up, state));
        }
        let chapters = |count| self.chapters(follow_up, count);
        match snapshot::decode(row.state_format, &row.state, chapters)? {
            Some(state) => Ok(row.loaded(follow_up, state)),
            None => self.rebuild(follow_up),
        }
    }

    /// The first chapters of a follow-up's past, at most so many, as they are kept.
    fn chapters(&self, follow_up: FollowUpId, count: u32) -> Result<Vec<Vec<u8>>, StoreError> {
        if count == 0 {
            return Ok(Vec::new());
        }
        self.connection
            .prepare_cached(
                "SELECT body FROM chapter WHERE follow_up = ?1 AND number < ?2 ORDER BY number",
            )
            .and_then(|mut select| {
                select.query_all(params![follow_up.number(), count], |row| row.get(0))
            })
            .doing("loading a follow-up")
    }

    /// Loads a follow-up from its journal alone. The next change brings the stored state up to
    /// date.
    ///
    /// # Errors
    /// When there is no such follow-up, or its journal cannot be read.
    pub fn rebuild(&self, follow_up: FollowUpId) -> Result<Loaded, StoreError> {
        let row = self.row(follow_up)?;
        let lines = self.journal_of(follow_up)?;
        let begins_well =
            lines.first().is_some_and(|line| matches!(line.entry.event, Event::Enrolled { .. }));
        let state = lines
            .iter()
            .filter(|_| begins_well)
            .fold(None, |state, line| Some(State::fold(state, &line.entry)))
            .ok_or_else(|| StoreError::unreadable("the journal of follow-up", follow_up))?;
        Ok(row.loaded(follow_up, state))
    }

    /// Whether the stored state is what the journal adds up to.
    ///
    /// # Errors
    /// When there is no such follow-up, or neither state nor journal can be read.
    pub fn is_state_as_journalled(&self, follow_up: FollowUpId) -> Result<bool, StoreError> {
        Ok(self.load(follow_up)?.state == self.rebuild(follow_up)?.state)
    }

    /// Follow-ups with something due at or before an instant, the longest due first; at most
    /// `limit`.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn due_follow_ups(&self, now: Instant, limit: u32) -> Result<Vec<FollowUpId>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT id FROM follow_up WHERE next_due_at_utc_ms <= ?1
                 ORDER BY next_due_at_utc_ms, id LIMIT ?2",
            )
            .and_then(|mut select| {
                select.query_all(params![to_ms(now), limit], |row| {
                    row.get(0).map(FollowUpId::from_number)
                })
            })
            .doing("looking for what is due")
    }

    /// When the next thing of any follow-up is due, where anything is.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn earliest_due(&self) -> Result<Option<Instant>, StoreError> {
        let ms: Option<i64> = self
            .connection
            .prepare_cached(
                "SELECT min(next_due_at_utc_ms) FROM follow_up
                 WHERE next_due_at_utc_ms IS NOT NULL",
            )
            .and_then(|mut select| select.query_one((), |row| row.get(0)))
            .doing("looking for what is due")?;
        ms.map(from_ms).transpose()
    }

    pub(super) fn row(&self, follow_up: FollowUpId) -> Result<FollowUpRow, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT client_ref, plan, entries, last_entry, last_hash, state_format, state
                 FROM follow_up WHERE id = ?1",
            )
            .and_then(|mut select| select.query_one([follow_up.number()], fields).optional())
            .doing("loading a follow-up")?
            .ok_or(StoreError::UnknownFollowUp { follow_up })?
    }
}

/// The row of a follow-up.
pub(super) struct FollowUpRow {
    pub(super) client: ClientRef,
    pub(super) head: Head,
    plan: PlanVersion,
    state_format: i64,
    state: Vec<u8>,
}

impl FollowUpRow {
    fn loaded(self, follow_up: FollowUpId, state: State) -> Loaded {
        Loaded { follow_up, client: self.client, plan: self.plan, state, head: self.head }
    }
}

fn fields(row: &Row<'_>) -> database::Result<Result<FollowUpRow, StoreError>> {
    let client: String = row.get(0)?;
    let Ok(client) = ClientRef::new(&client) else {
        return Ok(Err(StoreError::unreadable("a client's reference of", "a follow-up")));
    };
    Ok(Ok(FollowUpRow {
        client,
        plan: PlanVersion::from_hash(row.get(1)?),
        head: Head {
            entries: row.get::<i64>(2)? as u64,
            last: row.get::<Option<i64>>(3)?.map(JournalSeq::from_number),
            hash: Digest::kept(row.get(4)?),
        },
        state_format: row.get(5)?,
        state: row.get(6)?,
    }))
}
