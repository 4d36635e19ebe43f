//! The past of a follow-up: looks and sittings that are settled and lie far back, laid down in
//! chapters. Late answers and corrections may name any of them, so none is forgotten; but the rules
//! look back on little, so a chapter stays closed until something in it is named.
//!
//! What a chapter says never changes; short ones are bound into a long one when there are many. Where
//! something in one does change, that chapter and all after it are taken back among what is recent, and
//! are laid down anew once all in them is settled.
//!
//! Never here: rules; where chapters are kept (the store).
//! Promises: whatever waits, for an answer or for its time, is recent; what is said of a chapter
//! without opening it is what is in it; the same entries make the same chapters.

use std::sync::{Arc, OnceLock};

use serde::{Deserialize, Serialize};

use super::calendar::Instant;
use super::ids::{LookId, SittingNumber, StepNumber};
use super::state::{Look, Sitting, State};
use super::trend::Point;
use crate::care::Minutes;

/// Looks in a chapter: some 1.5 KB, so that two or three chapters share a page of the database.
const LOOKS: usize = 16;
/// Looks that stay recent in any case, a day or two of building up: what is named, as a rule, is
/// among them. Each act writes what is recent.
const RECENT: usize = 8;
/// Short chapters that are bound into one long one: reading costs by how many there are, more than by
/// their length.
const BOUND: usize = 8;

/// The chapters, the oldest first.
#[derive(Clone, Debug, Default)]
pub struct Past {
    chapters: Vec<Arc<Chapter>>,
    /// How many of them are kept already as they are.
    kept: usize,
}

/// What tells whether chapters are the ones that a state was kept with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// How many chapters there are.
    pub chapters: u32,
    /// Their check sum: against accidents, not against a forger.
    seal: u32,
}

/// A chapter: some looks, and the sittings that ended with them.
#[derive(Debug)]
pub struct Chapter {
    told: Told,
    /// Looks and sittings up to the end of this chapter.
    looks_until: usize,
    sittings_until: usize,
    /// The check sum of all chapters up to the end of this one.
    seal: u32,
    bytes: Vec<u8>,
    /// Where the contents begin in the bytes.
    begin: usize,
    contents: OnceLock<Contents>,
}

/// What is told of a chapter without opening it.
#[derive(Debug, Serialize, Deserialize)]
struct Told {
    looks: u32,
    sittings: u32,
    /// The place of the newest request among all of the follow-up.
    newest_request: u32,
    /// The look whose first request is the newest, with the place of that.
    newest_first: Option<(u32, LookId)>,
    /// The latest time of a first request.
    #[serde(with = "super::stored::maybe_instant")]
    last_asked: Option<Instant>,
    /// The points of its sittings (R19), with their steps.
    points: Vec<(StepNumber, Minutes, Minutes)>,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
struct Contents {
    looks: Vec<Look>,
    sittings: Vec<Sitting>,
}

impl PartialEq for Past {
    fn eq(&self, other: &Self) -> bool {
        self.chapters
            .iter()
            .map(|chapter| &chapter.bytes)
            .eq(other.chapters.iter().map(|chapter| &chapter.bytes))
    }
}

impl Eq for Past {}

impl Past {
    /// The chapters that a state was kept with, from their kept bytes; none where they are others.
    pub fn read(mark: Mark, kept: Vec<Vec<u8>>) -> Option<Self> {
        let mut past = Self::default();
        for bytes in kept {
            let chapter = Chapter::read(bytes, past.chapters.last())?;
            past.chapters.push(Arc::new(chapter));
        }
        past.note_kept();
        (past.mark() == mark).then_some(past)
    }

    /// What is kept with the state, so that the chapters are known again.
    pub fn mark(&self) -> Mark {
        let chapters = u32::try_from(self.chapters.len()).unwrap_or(u32::MAX);
        Mark { chapters, seal: self.chapters.last().map_or(0, |chapter| chapter.seal) }
    }

    /// The chapters that are still to be kept, and how many stay as they are kept before them.
    pub fn unkept(&self) -> (usize, &[Arc<Chapter>]) {
        (self.kept, &self.chapters[self.kept..])
    }

    /// Notes that all chapters are kept as they are.
    pub fn note_kept(&mut self) {
        self.kept = self.chapters.len();
    }

    /// The chapters, the newest first.
    pub(super) fn newest_first(&self) -> impl Iterator<Item = &Chapter> {
        self.chapters.iter().rev().map(|chapter| &**chapter)
    }

    fn looks(&self) -> usize {
        self.chapters.last().map_or(0, |chapter| chapter.looks_until)
    }

    fn sittings(&self) -> usize {
        self.chapters.last().map_or(0, |chapter| chapter.sittings_until)
    }

    fn look(&self, index: usize) -> &Look {
        let at = self.chapters.partition_point(|chapter| chapter.looks_until <= index);
        let chapter = &self.chapters[at];
        let looks = chapter.looks();
        &looks[looks.len() - (chapter.looks_until - index)]
    }

    fn sitting(&self, index: usize) -> &Sitting {
        let at = self.chapters.partition_point(|chapter| chapter.sittings_until <= index);
        let chapter = &self.chapters[at];
        let sittings = chapter.sittings();
        &sittings[sittings.len() - (chapter.sittings_until - index)]
    }

    /// Lays a chapter down after the others, and binds the short ones once there are many.
    fn push(&mut self, contents: Contents) {
        self.add(contents);
        let is_short = |chapter: &&Arc<Chapter>| chapter.told.looks as usize <= LOOKS;
        let short = self.chapters.iter().rev().take_while(is_short).count();
        if short < BOUND {
            return;
        }
        let begin = self.chapters.len() - short;
        let mut whole = Contents { looks: Vec::new(), sittings: Vec::new() };
        for chapter in self.chapters.drain(begin..) {
            whole.looks.extend_from_slice(chapter.looks());
            whole.sittings.extend_from_slice(chapter.sittings());
        }
        self.kept = self.kept.min(begin);
        self.add(whole);
    }

    fn add(&mut self, contents: Contents) {
        let chapter = Chapter::new(contents, self.chapters.last());
        self.chapters.push(Arc::new(chapter));
    }

    /// Takes the last chapter back.
    fn pop(&mut self) -> Option<Contents> {
        let chapter = self.chapters.pop()?;
        self.kept = self.kept.min(self.chapters.len());
        Some(chapter.contents().clone())
    }
}

/// A state's past, for `#[serde(with)]`: a person reads it whole; where a state is kept, its chapters
/// lie apart and are put back by `with_past`.
pub(super) mod apart {
    use serde::{Deserializer, Serializer};

    use super::*;

    pub(crate) fn serialize<S: Serializer>(past: &Past, serializer: S) -> Result<S::Ok, S::Error> {
        if serializer.is_human_readable() {
            serializer.collect_seq(past.chapters.iter().map(|chapter| chapter.contents()))
        } else {
            serializer.serialize_unit()
        }
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Past, D::Error> {
        let mut past = Past::default();
        if deserializer.is_human_readable() {
            Vec::deserialize(deserializer)?.into_iter().for_each(|contents| past.push(contents));
        } else {
            <()>::deserialize(deserializer)?;
        }
        Ok(past)
    }
}

impl Chapter {
    /// The bytes that it is kept as.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    fn new(contents: Contents, before: Option<&Arc<Self>>) -> Self {
        let told = postcard::to_allocvec(&Told::of(&contents));
        let mut bytes = told.expect("OK because numbers and times have a stored form");
        bytes.extend(
            postcard::to_allocvec(&contents)
                .expect("OK because every part of looks and sittings has a stored form"),
        );
        Self::read(bytes, before).expect("OK because it was written a moment ago")
    }

    fn read(bytes: Vec<u8>, before: Option<&Arc<Self>>) -> Option<Self> {
        let (told, contents) = postcard::take_from_bytes::<Told>(&bytes).ok()?;
        let begin = bytes.len() - contents.len();
        let (looks, sittings, seal) = before
            .map_or((0, 0, 0), |before| (before.looks_until, before.sittings_until, before.seal));
        let mut sum = crc32fast::Hasher::new_with_initial(seal);
        sum.update(&bytes);
        Some(Self {
            looks_until: looks + told.looks as usize,
            sittings_until: sittings + told.sittings as usize,
            seal: sum.finalize(),
            told,
            bytes,
            begin,
            contents: OnceLock::new(),
        })
    }

    /// The place of its newest request among all of the follow-up. The chapter stays closed.
    pub(super) fn newest_request(&self) -> u32 {
        self.told.newest_request
    }

    pub(super) fn looks(&self) -> &[Look] {
        &self.contents().looks
    }

    pub(super) fn sittings(&self) -> &[Sitting] {
        &self.contents().sittings
    }

    fn contents(&self) -> &Contents {
        self.contents.get_or_init(|| {
            postcard::from_bytes(&self.bytes[self.begin..])
                .expect("OK because the seal says that these are the bytes that were written")
        })
    }
}

impl Told {
    fn of(contents: &Contents) -> Self {
        let Contents { looks, sittings } = contents;
        let asked = looks.iter().flat_map(|look| &look.requests);
        let announced = sittings.iter().map(|sitting| &sitting.announcement);
        let firsts = || looks.iter().filter_map(|look| Some((look.requests.first()?, look.id)));
        let point = |sitting: &Sitting| Some((sitting.step, sitting.sit, sitting.point?));
        Self {
            looks: u32::try_from(looks.len()).unwrap_or(u32::MAX),
            sittings: u32::try_from(sittings.len()).unwrap_or(u32::MAX),
            newest_request: asked.chain(announced).map(|r| r.order).max().unwrap_or(0),
            newest_first: firsts().map(|(request, id)| (request.order, id)).max(),
            last_asked: firsts().map(|(request, _)| request.at).max(),
            points: sittings.iter().filter_map(point).collect(),
        }
    }
}

impl State {
    /// A look by its number, where there is one.
    pub fn known_look(&self, id: LookId) -> Option<&Look> {
        let index = (id.count() as usize).checked_sub(1)?;
        match index.checked_sub(self.past.looks()) {
            Some(recent) => self.recent_looks.get(recent),
            None => Some(self.past.look(index)),
        }
    }

    /// A sitting by its number, where there is one.
    pub fn known_sitting(&self, number: SittingNumber) -> Option<&Sitting> {
        let index = (number.count() as usize).checked_sub(1)?;
        match index.checked_sub(self.past.sittings()) {
            Some(recent) => self.recent_sittings.get(recent),
            None => Some(self.past.sitting(index)),
        }
    }

    /// All looks, in the order in which they came to be planned. It opens the chapters that it comes
    /// to; who wants what waits only takes `unsettled_looks`.
    pub fn looks(&self) -> impl DoubleEndedIterator<Item = &Look> {
        let past = self.past.chapters.iter().flat_map(|chapter| chapter.looks());
        past.chain(&self.recent_looks)
    }

    /// All sittings that began, in order. As `looks`, it opens chapters.
    pub fn sittings(&self) -> impl DoubleEndedIterator<Item = &Sitting> {
        let past = self.past.chapters.iter().flat_map(|chapter| chapter.sittings());
        past.chain(&self.recent_sittings)
    }

    /// Looks that wait to be asked or answered. They are recent, all of them.
    pub fn unsettled_looks(&self) -> impl Iterator<Item = &Look> {
        self.recent_looks.iter().filter(|look| look.is_unsettled())
    }

    /// How many looks there ever were.
    pub fn looks_count(&self) -> usize {
        self.past.looks() + self.recent_looks.len()
    }

    /// How many sittings ever began.
    pub fn sittings_count(&self) -> usize {
        self.past.sittings() + self.recent_sittings.len()
    }

    /// The look that was asked most recently of anyone, by its newest first request (R29).
    pub(super) fn newest_look_asked(&self) -> Option<LookId> {
        let past = self.past.chapters.iter().filter_map(|chapter| chapter.told.newest_first);
        let recent =
            self.recent_looks.iter().filter_map(|look| Some((look.first_order()?, look.id)));
        past.chain(recent).max().map(|(_, id)| id)
    }

    /// The latest time at which a look was first asked.
    pub(super) fn last_asked(&self) -> Option<Instant> {
        let past = self.past.chapters.iter().filter_map(|chapter| chapter.told.last_asked);
        let recent = self.recent_looks.iter().filter_map(|look| look.requests.first());
        past.chain(recent.map(|request| request.at)).max()
    }

    /// The points of all sittings that gave one, with their steps, in order (R19).
    pub(super) fn points(&self) -> impl Iterator<Item = (StepNumber, Point)> {
        let past =
            self.past.chapters.iter().flat_map(|chapter| chapter.told.points.iter().copied());
        let recent = self.recent_sittings.iter();
        let recent = recent.filter_map(|sitting| Some((sitting.step, sitting.sit, sitting.point?)));
        past.chain(recent)
            .map(|(step, sat, fade)| (step, Point { sat: sat.count(), fade: fade.count() }))
    }

    pub(super) fn look_mut(&mut self, id: LookId) -> &mut Look {
        let index = id.count() as usize - 1;
        while index < self.past.looks() {
            self.take_back();
        }
        &mut self.recent_looks[index - self.past.looks()]
    }

    pub(super) fn sitting_mut(&mut self, number: SittingNumber) -> &mut Sitting {
        let index = number.count() as usize - 1;
        while index < self.past.sittings() {
            self.take_back();
        }
        &mut self.recent_sittings[index - self.past.sittings()]
    }

    /// Takes all chapters back, for a change of all that ever was.
    pub(super) fn take_all_back(&mut self) {
        while self.take_back() {}
    }

    /// Takes the last chapter back among what is recent; false where there is none.
    fn take_back(&mut self) -> bool {
        let Some(Contents { looks, sittings }) = self.past.pop() else { return false };
        self.recent_looks.splice(0..0, looks);
        self.recent_sittings.splice(0..0, sittings);
        true
    }

    /// Lays the oldest of what is recent down in chapters, as far as it is settled.
    pub(super) fn lay_down_the_past(&mut self) {
        while self.recent_looks.len() >= LOOKS + RECENT
            && self.recent_looks[..LOOKS].iter().all(|look| !look.is_unsettled())
        {
            let looks: Vec<Look> = self.recent_looks.drain(..LOOKS).collect();
            let last = looks.last().map(|look| look.id);
            let is_past = |sitting: &&Sitting| {
                let looks = &sitting.looks;
                sitting.settled && !sitting.announced && looks.iter().all(|id| Some(*id) <= last)
            };
            let sittings = self.recent_sittings.iter().take_while(is_past).count();
            let sittings = self.recent_sittings.drain(..sittings).collect();
            self.past.push(Contents { looks, sittings });
        }
    }

    /// Its past.
    pub fn past(&self) -> &Past {
        &self.past
    }

    /// The same state with its past, from which it was kept apart.
    #[must_use]
    pub fn with_past(mut self, past: Past) -> Self {
        self.past = past;
        self
    }

    /// Notes that all chapters of its past are kept as they are.
    pub fn note_past_kept(&mut self) {
        self.past.note_kept();
    }
}

#[cfg(test)]
mod tests;
