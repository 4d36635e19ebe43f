//! What is known of a mark's time: when it had gone, or how long it lasted at least.
//!
//! Never here: drawing, credit.
//! Promises: what nobody reported is not known, and is never taken for 'gone' or 'no marks'; the
//! bounds are those that the replies support, no narrower.

use crate::care::{Finding, Minutes};
use crate::follow_up::State;
use crate::follow_up::state::Look;

/// What is known, from best to worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in super::super) enum Fade {
    /// Nothing was seen.
    Clear,
    /// It had gone at some time up to these minutes.
    Within(Minutes),
    /// It had gone after these minutes, as somebody stated.
    Stated(Minutes),
    /// A mark was seen; it was there for these minutes at least, and no more is known.
    NotKnown(Minutes),
    /// It was still there after these minutes.
    Lasted(Minutes),
    /// A sign that needs review at once; its time does not matter.
    Alarming,
}

impl Fade {
    /// Of the mark seen at a first or routine look; none before its finding.
    pub(in super::super) fn of(look: &Look, state: &State, limit: Minutes) -> Option<Self> {
        let own = look.found.as_ref()?;
        let stated = own.minutes.unwrap_or(Minutes::ZERO);
        Some(match own.finding {
            Finding::Clear => Self::Clear,
            Finding::Faded => {
                own.minutes.map_or(Self::Within(own.fade.unwrap_or(limit)), Self::Stated)
            }
            Finding::Persisting => Self::Lasted(stated),
            Finding::Alarming => Self::Alarming,
            Finding::Marked => {
                let recheck = look.recheck.and_then(|id| state.look(id).found.as_ref());
                let Some(later) = recheck else { return Some(Self::NotKnown(stated)) };
                let between = (later.looked_at - own.looked_at).num_minutes();
                let between = Minutes::new(u32::try_from(between).unwrap_or(0));
                match later.finding {
                    Finding::Clear | Finding::Faded => later
                        .minutes
                        .map_or(Self::Within(later.fade.unwrap_or(limit)), Self::Stated),
                    Finding::Marked | Finding::Persisting => {
                        Self::Lasted(later.minutes.unwrap_or(Minutes::ZERO).max(between))
                    }
                    Finding::Alarming => Self::Alarming,
                }
            }
        })
    }

    /// How much worse than another: kind first, but a mark that has gone is judged by its time.
    pub(in super::super) fn rank(self) -> (u32, u32) {
        match self {
            Self::Clear => (0, 0),
            Self::Within(at) | Self::Stated(at) => (1, at.count()),
            Self::NotKnown(at) => (2, at.count()),
            Self::Lasted(at) => (3, at.count()),
            Self::Alarming => (4, 0),
        }
    }

    /// Between which minutes it had gone: the upper bound is none where it is open.
    pub(super) fn bounds(self) -> Option<(Minutes, Option<Minutes>)> {
        match self {
            Self::Clear => Some((Minutes::ZERO, Some(Minutes::ZERO))),
            Self::Within(at) => Some((Minutes::ZERO, Some(at))),
            Self::Stated(at) => Some((at, Some(at))),
            Self::NotKnown(at) | Self::Lasted(at) => Some((at, None)),
            Self::Alarming => None,
        }
    }

    /// Its name in the drawing's data.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::Within(_) => "within",
            Self::Stated(_) => "stated",
            Self::NotKnown(_) => "not-known",
            Self::Lasted(_) => "lasted",
            Self::Alarming => "alarming",
        }
    }
}
