//! Which pictures go with a mail, and a shelf of those that were drawn lately.
//!
//! Drawing takes longer than all the rest of an act, and the writer serves everybody. So an act
//! looks its pictures up on the shelf before it writes anything; what is missing there it asks
//! for ([`ServiceError::Undrawn`]), and is done anew once that has been drawn beside the writer.
//!
//! Never here: drawing (`notice::picture`).
//! Promises: whatever is wrong with a picture, the mail goes out; a picture that was drawn lately
//! is not drawn again, so that an alert that repeats costs nothing; a mail that asks for a look
//! stays small.

use std::collections::{HashMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use sha2::{Digest as _, Sha256};

use super::error::ServiceError;
use super::office::Office;
use crate::care::{ContactId, Plan};
use crate::follow_up::event::{LookKind, RequestClock, TellReason};
use crate::follow_up::{Entry, Event, LookId, State};
use crate::notice::picture::{Drawing, Width};
use crate::notice::{Picture, Wording};
use crate::store::{Change, Digest, FollowUpId, View};

/// Picture points for each unit: twice a phone's width in a clinician's mail, so that small signs
/// stay sharp; once in a caregiver's, who looks at large signs only.
const ALERT_SCALE: f32 = 2.0;
const ASK_SCALE: f32 = 1.0;
/// The most that the map of places may add to a mail that asks for a look.
const ASK_BYTES_MAX: usize = 25_000;
/// The map of places goes with the first looks that a contact is asked for; after them they know.
const ASKS_WITH_MAP: usize = 3;
/// Drawings kept on the shelf; a few hundred kilobytes in all.
const SHELF_MAX: usize = 64;

/// Where pictures are drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Easel {
    /// Within the act that wants them: for one who has the store for themselves for a moment.
    #[default]
    InTheAct,
    /// Beside the writer, by whoever gets [`ServiceError::Undrawn`].
    Beside,
    /// Nowhere: mail goes without. For runs of many follow-ups whose mail nobody looks at.
    Nowhere,
}

/// Pictures that were drawn lately.
#[derive(Debug, Default)]
pub struct PictureShelf {
    easel: Easel,
    kept: Mutex<Kept>,
}

#[derive(Debug, Default)]
struct Kept {
    /// What goes with a mail, by what it shows, the longest kept first in `order`.
    mails: HashMap<Shows, Vec<Picture>>,
    order: VecDeque<Shows>,
    /// Pictures by their drawing: most that is new in a journal changes nothing in a picture.
    drawn: HashMap<[u8; 32], Arc<[u8]>>,
}

/// What the pictures of a mail show.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Shows {
    subject: Subject,
    /// The reader's language.
    language: String,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Subject {
    /// The places that are to be looked at.
    Places,
    /// The course of a follow-up and its marks, as its journal has them up to this hash.
    Course { follow_up: FollowUpId, until: Digest },
}

/// Pictures that are to be drawn.
#[derive(Clone, Debug)]
pub struct Commission {
    shows: Shows,
    course: Option<Arc<CourseSoFar>>,
}

#[derive(Debug)]
struct CourseSoFar {
    state: State,
    plan: Arc<Plan>,
    /// Entries that were in the journal before the act.
    journalled: u64,
    /// The entries of the act.
    entries: Vec<Entry>,
}

/// An act whose mail is to have pictures, before any of it is written.
pub(super) struct Pictured<'a> {
    pub(super) office: &'a Office,
    pub(super) view: &'a View<'a>,
    pub(super) change: &'a Change,
    pub(super) plan: &'a Arc<Plan>,
    pub(super) state: &'a State,
    pub(super) entries: &'a [Entry],
    /// The language of a contact's mail.
    pub(super) language_of: &'a dyn Fn(&ContactId) -> String,
}

impl Pictured<'_> {
    /// The pictures that go with the mail of each entry.
    ///
    /// # Errors
    /// `Undrawn` with all that is to be drawn first.
    pub(super) fn pictures(&self) -> Result<Vec<Vec<Picture>>, ServiceError> {
        let shelf = &self.office.pictures;
        let mut undrawn: Vec<Commission> = Vec::new();
        let mut pictures = Vec::with_capacity(self.entries.len());
        for entry in self.entries {
            let shows = self.shows(&entry.event).filter(|_| shelf.easel != Easel::Nowhere);
            let found = shows.as_ref().map(|shows| shelf.find(shows));
            pictures.push(match (shows, found) {
                (Some(shows), Some(None)) => {
                    let commission = self.commission(shows);
                    if shelf.easel == Easel::InTheAct {
                        self.office.draw(self.view, std::slice::from_ref(&commission));
                        shelf.find(&commission.shows).unwrap_or_default()
                    } else {
                        undrawn.push(commission);
                        Vec::new()
                    }
                }
                (_, found) => found.flatten().unwrap_or_default(),
            });
        }
        if undrawn.is_empty() { Ok(pictures) } else { Err(ServiceError::Undrawn(undrawn)) }
    }

    /// What the pictures in the mail of an event show; none where it has none.
    fn shows(&self, event: &Event) -> Option<Shows> {
        let course = |to| {
            let clinician = self.office.clinicians.get(to);
            let language = clinician.map_or("", |person| person.language()).to_owned();
            let (follow_up, until) = (self.change.follow_up(), self.change.end());
            Some(Shows { subject: Subject::Course { follow_up, until }, language })
        };
        match event {
            Event::Alerted { to, .. } => course(to),
            Event::ClinicTold { to, why, .. } if is_about_marks(*why) => course(to),
            Event::Asked { look, kind: LookKind::First, to, clock, .. } => {
                // After words that could not be read every choice is spelled out, places too.
                let wanted = *clock == RequestClock::Unchanged || self.is_new_to_it(*look, to);
                let language = (self.language_of)(to);
                wanted.then_some(Shows { subject: Subject::Places, language })
            }
            _ => None,
        }
    }

    fn is_new_to_it(&self, look: LookId, to: &ContactId) -> bool {
        // From the newest, which are at hand.
        let asked = self.state.looks().rev().filter(|look| look.times_sent_to(to) > 0);
        self.state.look(look).times_sent_to(to) == 1
            && asked.take(ASKS_WITH_MAP + 1).count() <= ASKS_WITH_MAP
    }

    fn commission(&self, shows: Shows) -> Commission {
        let course = match shows.subject {
            Subject::Places => None,
            Subject::Course { .. } => Some(Arc::new(CourseSoFar {
                state: self.state.clone(),
                plan: Arc::clone(self.plan),
                journalled: self.change.begins_after(),
                entries: self.entries.to_vec(),
            })),
        };
        Commission { shows, course }
    }
}

impl PictureShelf {
    /// An empty shelf for pictures that are drawn there.
    pub fn with_easel(easel: Easel) -> Self {
        Self { easel, kept: Mutex::default() }
    }

    fn find(&self, shows: &Shows) -> Option<Vec<Picture>> {
        self.kept().mails.get(shows).cloned()
    }

    fn put(&self, shows: &Shows, pictures: Vec<Picture>) {
        let mut kept = self.kept();
        if kept.mails.insert(shows.clone(), pictures).is_none() {
            kept.order.push_back(shows.clone());
        }
        if kept.order.len() > SHELF_MAX
            && let Some(oldest) = kept.order.pop_front()
        {
            kept.mails.remove(&oldest);
        }
    }

    /// A drawing as a picture for a mail. `name` and `domain` become its content id.
    fn picture(&self, name: &str, drawing: Drawing, scale: f32, domain: &str) -> Picture {
        let key: [u8; 32] = Sha256::digest(drawing.svg.as_bytes()).into();
        let drawn = self.kept().drawn.get(&key).cloned();
        let png = drawn.unwrap_or_else(|| {
            let png: Arc<[u8]> = drawing.png(scale).into();
            let mut kept = self.kept();
            if kept.drawn.len() >= SHELF_MAX {
                kept.drawn.clear();
            }
            kept.drawn.insert(key, Arc::clone(&png));
            png
        });
        let mark: String = key.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
        let content_id = format!("{name}-{mark}@{domain}");
        Picture { content_id, described: drawing.described, png }
    }

    fn kept(&self) -> MutexGuard<'_, Kept> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Office {
    /// Draws what is wanted and puts it on the shelf. What cannot be drawn is put there as no
    /// picture at all, so that its mail goes without.
    pub fn draw(&self, view: &View<'_>, wanted: &[Commission]) {
        for commission in wanted {
            let drawn = catch_unwind(AssertUnwindSafe(|| self.drawn(view, commission)));
            let pictures = drawn.unwrap_or_else(|_| {
                tracing::error!("a picture could not be drawn; the mail goes without it");
                Vec::new()
            });
            self.pictures.put(&commission.shows, pictures);
        }
    }

    fn drawn(&self, view: &View<'_>, Commission { shows, course }: &Commission) -> Vec<Picture> {
        let w: &Wording = self.languages.wording(&shows.language);
        match (&shows.subject, course) {
            (Subject::Course { follow_up, .. }, Some(course)) => {
                self.course_and_marks(view, *follow_up, w, course)
            }
            _ => {
                let picture = self.shelved("places", Drawing::places(w), ASK_SCALE);
                (picture.png.len() <= ASK_BYTES_MAX).then_some(picture).into_iter().collect()
            }
        }
    }

    fn course_and_marks(
        &self,
        view: &View<'_>,
        follow_up: FollowUpId,
        w: &Wording,
        CourseSoFar { state, plan, journalled, entries }: &CourseSoFar,
    ) -> Vec<Picture> {
        let mut pictures = Vec::new();
        match view.journal_of(follow_up) {
            Ok(journal) => {
                let before = journal.into_iter().filter(|line| line.number <= *journalled);
                let entries: Vec<Entry> =
                    before.map(|line| line.entry).chain(entries.iter().cloned()).collect();
                let drawing = Drawing::course(w, state, plan, &entries, Width::Phone);
                pictures.push(self.shelved("course", drawing, ALERT_SCALE));
            }
            // The reason may quote the record: it stays out of the log.
            Err(_) => {
                tracing::error!(%follow_up, "the journal cannot be read; the mail goes without it");
            }
        }
        let marks = Drawing::marks(w, state, plan, Width::Phone);
        pictures.extend(marks.map(|drawing| self.shelved("marks", drawing, ALERT_SCALE)));
        pictures
    }

    fn shelved(&self, name: &str, drawing: Drawing, scale: f32) -> Picture {
        self.pictures.picture(name, drawing, scale, self.from.address.domain())
    }
}

/// Whether the course and the places explain what is told.
fn is_about_marks(why: TellReason) -> bool {
    match why {
        TellReason::RepeatMarks
        | TellReason::Rising
        | TellReason::Projection
        | TellReason::Correction
        | TellReason::LateReport => true,
        TellReason::Missed | TellReason::Unclear | TellReason::Suspended => false,
    }
}
