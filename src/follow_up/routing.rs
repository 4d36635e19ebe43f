//! Which request a reply answers (R29, and 'Without `answers`' of the rehearsal format).
//!
//! Never here: what the reply then leads to.
//! Promises: only requests that went to the person who writes are ever found.

use super::event::LookKind;
use super::occasion::{Aim, Target, TargetKind};
use super::state::{Look, LookStatus, Sitting, State};
use crate::care::{ContactId, Reading};

/// A request to one person, as routing sees it.
struct Candidate {
    target: Target,
    kind: TargetKind,
    order: u32,
    open: bool,
}

impl State {
    /// The request of this person's that a reply answers; none where the person was not asked.
    pub(super) fn answered_by(&self, by: &ContactId, reading: Reading, aim: Aim) -> Option<Target> {
        let kind = match aim {
            Aim::Request(target) => return self.was_asked(by, target).then_some(target),
            Aim::Nothing => return None,
            Aim::Kind(kind) => Some(kind),
            Aim::Newest => None,
        };
        let wanted = |request: &Candidate| kind.is_none_or(|kind| request.kind == kind);
        let recent: Vec<Candidate> =
            requests_to(by, &self.recent_looks, &self.recent_sittings).filter(wanted).collect();
        // What a person says next after a look that nobody asked for is said to that look.
        let last = self.newest_of_all(by, &recent, wanted);
        if let (Aim::Newest, Some(Target::Look(id))) = (aim, last)
            && self.look(id).unasked
        {
            return Some(Target::Look(id));
        }
        // Whatever is open is recent.
        let newest_open = |fits: &dyn Fn(&Candidate) -> bool| {
            let open = recent.iter().filter(|request| request.open && fits(request));
            open.max_by_key(|request| request.order).map(|request| request.target)
        };
        newest_open(&|request| fits(request.kind, reading))
            .or_else(|| newest_open(&|_| true))
            .or(last)
    }

    /// The newest request to a person that is still open, else the newest of all: what words of
    /// theirs are read in answer to, before their reading is known.
    pub fn newest_request(&self, by: &ContactId, aim: Aim) -> Option<Target> {
        self.answered_by(by, Reading::Unclear, aim)
    }

    fn was_asked(&self, by: &ContactId, target: Target) -> bool {
        match target {
            Target::Look(id) => self.known_look(id).is_some_and(|look| look.times_sent_to(by) > 0),
            Target::Announcement(number) => {
                self.known_sitting(number).is_some_and(|sitting| sitting.announcement.to == *by)
            }
        }
    }

    fn newest_of_all(
        &self,
        by: &ContactId,
        recent: &[Candidate],
        wanted: impl Fn(&Candidate) -> bool,
    ) -> Option<Target> {
        let newest = recent.iter().max_by_key(|request| request.order);
        let mut newest = newest.map(|request| (request.order, request.target));
        for chapter in self.past.newest_first() {
            // A chapter is opened only where it may hold a newer one.
            if newest.is_none_or(|(order, _)| order < chapter.newest_request()) {
                let requests = requests_to(by, chapter.looks(), chapter.sittings());
                let found = requests.filter(&wanted).map(|request| (request.order, request.target));
                newest = newest.into_iter().chain(found).max_by_key(|(order, _)| *order);
            }
        }
        newest.map(|(_, target)| target)
    }
}

/// The requests to a person among some looks and sittings.
fn requests_to<'s>(
    by: &'s ContactId,
    looks: &'s [Look],
    sittings: &'s [Sitting],
) -> impl Iterator<Item = Candidate> {
    let announcements = sittings.iter().filter(|sitting| sitting.announcement.to == *by);
    let announcements = announcements.map(|sitting| Candidate {
        target: Target::Announcement(sitting.number),
        kind: TargetKind::Start,
        order: sitting.announcement.order,
        open: sitting.announced,
    });
    let looks = looks.iter().filter_map(|look| {
        let request = look.requests.iter().rev().find(|request| request.to == *by)?;
        Some(Candidate {
            target: Target::Look(look.id),
            kind: kind_of(look.kind),
            order: request.order,
            open: look.status == LookStatus::Open,
        })
    });
    announcements.chain(looks)
}

fn kind_of(kind: LookKind) -> TargetKind {
    match kind {
        LookKind::First => TargetKind::First,
        LookKind::Recheck => TargetKind::Recheck,
        LookKind::Routine => TargetKind::Routine,
    }
}

/// Whether a reading fits a kind of request.
pub(super) fn fits(kind: TargetKind, reading: Reading) -> bool {
    match kind {
        TargetKind::Start => matches!(
            reading,
            Reading::Started
                | Reading::NoSitting
                | Reading::Faded
                | Reading::Marked
                | Reading::Persisting
                | Reading::Alarming
        ),
        TargetKind::First => true,
        TargetKind::Recheck | TargetKind::Routine => {
            !matches!(reading, Reading::Started | Reading::NoSitting)
        }
        TargetKind::Alert => false,
    }
}
