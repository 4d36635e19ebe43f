//! The checks of a fit, in the order in which they are worked through.
//!
//! Never here: what follows from a check (`review`), wording.
//! Promises: every check of a fit has a result; one that was not made says so.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::FreeWords;
use crate::care::Side;

/// A check of a fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Check {
    /// The seat is placed right on the chair.
    SeatOnChair,
    /// Foot support.
    FootSupport,
    /// Back support.
    BackSupport,
    /// Position on the seat, by the trochanters.
    Position,
    /// No contact at sacrum and coccyx.
    SacrumFree,
    /// Room at the perineum.
    PerineumRoom,
    /// Clearance under the ischium of a side.
    Clearance(Side),
}

/// What a check gave.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CheckResult {
    /// As it should be.
    Ok,
    /// Not as it should be.
    NotOk,
    /// Nobody looked, or could not say.
    NotChecked,
}

/// A check that has been worked through.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Checked {
    /// What it gave.
    pub result: CheckResult,
    /// What the fitter noted.
    pub note: Option<FreeWords>,
}

/// The results of all checks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Checks([Checked; Check::ALL.len()]);

impl Check {
    /// All checks in working order.
    pub const ALL: [Self; 8] = [
        Self::SeatOnChair,
        Self::FootSupport,
        Self::BackSupport,
        Self::Position,
        Self::SacrumFree,
        Self::PerineumRoom,
        Self::Clearance(Side::Left),
        Self::Clearance(Side::Right),
    ];

    /// The check's key in settings, journals of fittings and language files.
    pub fn id(self) -> &'static str {
        match self {
            Self::SeatOnChair => "seat_on_chair",
            Self::FootSupport => "foot_support",
            Self::BackSupport => "back_support",
            Self::Position => "position",
            Self::SacrumFree => "sacrum_free",
            Self::PerineumRoom => "perineum_room",
            Self::Clearance(Side::Left) => "clearance_left",
            Self::Clearance(Side::Right) => "clearance_right",
        }
    }

    /// The check with a key.
    pub fn by_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|check| check.id() == id)
    }
}

impl CheckResult {
    /// The word in settings.
    pub fn id(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::NotOk => "not-ok",
            Self::NotChecked => "not-checked",
        }
    }
}

impl Checks {
    /// The results of all checks, worked out one by one.
    pub fn of(result: impl FnMut(Check) -> Checked) -> Self {
        Self(Check::ALL.map(result))
    }

    /// The result of one check.
    pub fn get(&self, check: Check) -> &Checked {
        let place = Check::ALL.iter().position(|known| *known == check);
        &self.0[place.expect("OK because ALL has every check")]
    }

    /// All checks with their results, in working order.
    pub fn iter(&self) -> impl Iterator<Item = (Check, &Checked)> {
        Check::ALL.into_iter().zip(&self.0)
    }
}

impl fmt::Display for Check {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.id())
    }
}
