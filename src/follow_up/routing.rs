//! Which request a reply answers (R29, and 'Without `answers`' of the rehearsal format).
//!
//! Never here: what the reply then leads to.
//! Promises: only requests that went to the person who writes are ever found.

use super::event::LookKind;
use super::ids::LookId;
use super::occasion::{Aim, Target, TargetKind};
use super::state::{LookStatus, State};
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
        let mut requests = self.requests_to(by);
        match aim {
            Aim::Request(target) => {
                return requests.iter().find(|request| request.target == target).map(|r| r.target);
            }
            Aim::Kind(kind) => requests.retain(|request| request.kind == kind),
            Aim::Nothing => return None,
            Aim::Newest => {}
        }
        // What a person says next after a look that nobody asked for is said to that look.
        let last = requests.iter().max_by_key(|request| request.order);
        if let (Aim::Newest, Some(Candidate { target: Target::Look(id), .. })) = (aim, last)
            && self.look(*id).unasked
        {
            return Some(Target::Look(*id));
        }
        let newest = |wanted: &dyn Fn(&Candidate) -> bool| {
            requests
                .iter()
                .filter(|request| wanted(request))
                .max_by_key(|request| request.order)
                .map(|request| request.target)
        };
        newest(&|request| request.open && fits(request.kind, reading))
            .or_else(|| newest(&|request| request.open))
            .or_else(|| newest(&|_| true))
    }

    /// The newest request to a person that is still open, else the newest of all: what words of
    /// theirs are read in answer to, before their reading is known.
    pub fn newest_request(&self, by: &ContactId, aim: Aim) -> Option<Target> {
        self.answered_by(by, Reading::Unclear, aim)
    }

    fn requests_to(&self, by: &ContactId) -> Vec<Candidate> {
        let announcements =
            self.sittings.iter().filter(|sitting| sitting.announcement.to == *by).map(|sitting| {
                Candidate {
                    target: Target::Announcement(sitting.number),
                    kind: TargetKind::Start,
                    order: sitting.announcement.order,
                    open: sitting.announced,
                }
            });
        let looks = self.looks.iter().filter_map(|look| {
            let request = look.requests.iter().rev().find(|request| request.to == *by)?;
            Some(Candidate {
                target: Target::Look(look.id),
                kind: kind_of(look.kind),
                order: request.order,
                open: look.status == LookStatus::Open,
            })
        });
        announcements.chain(looks).collect()
    }

    /// The look that was asked most recently of anyone, by its newest first request (R29).
    pub(super) fn newest_look_asked(&self) -> Option<LookId> {
        self.looks
            .iter()
            .filter_map(|look| look.requests.first().map(|request| (request.order, look.id)))
            .max()
            .map(|(_, id)| id)
    }
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
