//! Which pictures go with a mail, and a shelf of those that were drawn lately.
//!
//! Never here: drawing (`notice::picture`).
//! Promises: whatever is wrong with a picture, the mail goes out; a picture that was drawn lately
//! is not drawn again, so that an alert that repeats costs nothing; a mail that asks for a look
//! stays small.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use sha2::{Digest as _, Sha256};

use super::office::Office;
use crate::care::{ClinicianId, ContactId, Plan};
use crate::follow_up::event::{LookKind, RequestClock, TellReason};
use crate::follow_up::{Event, State};
use crate::notice::picture::{Drawing, Width};
use crate::notice::{Picture, Wording};
use crate::store::{FollowUpId, View};

/// Picture points for each unit: twice a phone's width in a clinician's mail, so that small signs
/// stay sharp; once in a caregiver's, who looks at large signs only.
const ALERT_SCALE: f32 = 2.0;
const ASK_SCALE: f32 = 1.0;
/// The most that the map of places may add to a mail that asks for a look.
const ASK_BYTES_MAX: usize = 25_000;
/// The map of places goes with the first looks that a contact is asked for; after them they know.
const ASKS_WITH_MAP: usize = 3;
/// Pictures kept on the shelf; a few hundred kilobytes in all.
const SHELF_MAX: usize = 64;

/// Pictures that were drawn lately, by what they show.
#[derive(Debug, Default)]
pub struct PictureShelf(Mutex<HashMap<[u8; 32], Arc<[u8]>>>);

impl PictureShelf {
    /// A drawing as a picture for a mail. `name` and `domain` become its content id.
    pub fn picture(&self, name: &str, drawing: Drawing, scale: f32, domain: &str) -> Picture {
        let key: [u8; 32] = Sha256::digest(drawing.svg.as_bytes()).into();
        let shelf = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let kept = shelf().get(&key).cloned();
        let png = kept.unwrap_or_else(|| {
            let png: Arc<[u8]> = drawing.png(scale).into();
            let mut shelf = shelf();
            if shelf.len() >= SHELF_MAX {
                shelf.clear();
            }
            shelf.insert(key, Arc::clone(&png));
            png
        });
        let mark: String = key.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
        let content_id = format!("{name}-{mark}@{domain}");
        Picture { content_id, described: drawing.described, png }
    }
}

/// What the pictures of one follow-up are drawn from.
pub(super) struct Subject<'a> {
    pub(super) office: &'a Office,
    pub(super) view: &'a View<'a>,
    pub(super) follow_up: FollowUpId,
    pub(super) plan: &'a Plan,
    pub(super) state: &'a State,
    /// The language of a contact's mail.
    pub(super) language_of: &'a dyn Fn(&ContactId) -> String,
}

impl Subject<'_> {
    /// The pictures that go with the mail of an event.
    pub(super) fn pictures(&self, event: &Event) -> Vec<Picture> {
        match event {
            Event::Alerted { to, .. } => self.course_and_marks(to),
            Event::ClinicTold { to, why, .. } if is_about_marks(*why) => self.course_and_marks(to),
            Event::Asked { look, kind, to, clock, .. } if *kind == LookKind::First => {
                let asked = self.state.looks.iter().filter(|look| look.times_sent_to(to) > 0);
                let is_first_request = self.state.look(*look).times_sent_to(to) == 1;
                let is_new_to_it = is_first_request && asked.count() <= ASKS_WITH_MAP;
                // After words that could not be read every choice is spelled out, places too.
                if is_new_to_it || *clock == RequestClock::Unchanged {
                    self.places(to).into_iter().collect()
                } else {
                    Vec::new()
                }
            }
            _ => Vec::new(),
        }
    }

    fn course_and_marks(&self, to: &ClinicianId) -> Vec<Picture> {
        let language = self.office.clinicians.get(to).map_or("", |person| person.language());
        let w = self.office.languages.wording(language);
        let (state, plan) = (self.state, self.plan);
        let mut pictures = Vec::new();
        match self.view.journal_of(self.follow_up) {
            Ok(journal) => {
                let entries: Vec<_> = journal.into_iter().map(|line| line.entry).collect();
                let drawing = Drawing::course(w, state, plan, &entries, Width::Phone);
                pictures.push(self.shelved("course", drawing, ALERT_SCALE));
            }
            // The reason may quote the record: it stays out of the log.
            Err(_) => {
                let follow_up = self.follow_up;
                tracing::error!(%follow_up, "the journal cannot be read; the mail goes without it");
            }
        }
        let marks = Drawing::marks(w, state, plan, Width::Phone);
        pictures.extend(marks.map(|drawing| self.shelved("marks", drawing, ALERT_SCALE)));
        pictures
    }

    fn places(&self, to: &ContactId) -> Option<Picture> {
        let language = (self.language_of)(to);
        let w: &Wording = self.office.languages.wording(&language);
        let picture = self.shelved("places", Drawing::places(w), ASK_SCALE);
        (picture.png.len() <= ASK_BYTES_MAX).then_some(picture)
    }

    fn shelved(&self, name: &str, drawing: Drawing, scale: f32) -> Picture {
        let domain = self.office.from.address.domain();
        self.office.pictures.picture(name, drawing, scale, domain)
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
