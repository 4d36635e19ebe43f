//! The fitting: how a seat was fitted to a client on a day, as checked values.
//!
//! Never here: whether it is good enough (`review`), TOML, wording.
//! Promises: no site is both off-loaded and loaded; a measured clearance says how it was found.

mod build_up;
mod check;
mod clearance;
mod free_words;
mod posture;
mod practice;
mod version;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{ClinicianId, Side, Site};

pub use build_up::{BuildUp, TooManyPieces};
pub use check::{Check, CheckResult, Checked, Checks};
pub use clearance::{Clearance, ClearanceError};
pub use free_words::{FreeWords, FreeWordsError};
pub use posture::{ComfortFill, Legs, Levelled, Obliquity, ObliquityKind, Pelvis, ThighSupports};
pub use practice::FitPractice;
pub use version::FittingVersion;

/// A seat fitted to a client.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fitting {
    /// The day of the fitting.
    pub date: NaiveDate,
    /// Who fitted.
    pub fitter: FreeWords,
    /// The seat, in words.
    pub seat: FreeWords,
    /// The checks of the fit.
    pub checks: Checks,
    /// The clearance under the ischia; none where it was not found.
    pub clearance: Option<ClearanceFound>,
    /// Build-up pieces.
    pub build_up: BuildUp,
    /// The pelvis.
    pub pelvis: Pelvis,
    /// The legs.
    pub legs: Legs,
    /// Thigh supports in use.
    pub thigh_supports: ThighSupports,
    /// Comfort fill.
    pub comfort_fill: ComfortFill,
    /// Sites that the seat takes load away from; at least one.
    pub off_loads: Vec<Site>,
    /// Sites that the seat loads in their place.
    pub loads: Vec<Site>,
}

/// A clinician's decision to begin although a fit is not ready.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InSpiteOf {
    /// Who decided.
    pub by: ClinicianId,
    /// Why.
    pub reason: FreeWords,
}

/// Clearance under both ischia, found in one way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClearanceFound {
    /// Under the left ischium.
    pub left: Clearance,
    /// Under the right ischium.
    pub right: Clearance,
    /// How it was found.
    pub how: ClearanceHow,
}

/// How clearance was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClearanceHow {
    /// By hand.
    Hand,
    /// By a feeler left under each site during a sitting.
    Feeler {
        /// The imprint under the left ischium.
        left: Imprint,
        /// The imprint under the right ischium.
        right: Imprint,
    },
}

/// The imprint of a site on a feeler, from none to deep.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Imprint {
    /// None.
    None,
    /// Very faint.
    Faint,
    /// Deep.
    Deep,
}

/// What a seat does with a site.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Bearing {
    /// It takes load away from it.
    OffLoaded,
    /// It loads it.
    Loaded,
    /// The record does not say, or says different things for the two sides.
    Unknown,
}

impl Fitting {
    /// What the seat does with a site. A site without a side stands for both.
    pub fn bearing(&self, site: Site) -> Bearing {
        let covers = |listed: &[Site], site: Site| {
            listed.iter().any(|listed| listed.both_if_unsided().contains(&site))
        };
        let mut bearings = site.both_if_unsided().into_iter().map(|site| {
            match (covers(&self.off_loads, site), covers(&self.loads, site)) {
                (true, false) => Bearing::OffLoaded,
                (false, true) => Bearing::Loaded,
                _ => Bearing::Unknown,
            }
        });
        let first = bearings.next().unwrap_or(Bearing::Unknown);
        if bearings.all(|other| other == first) { first } else { Bearing::Unknown }
    }

    /// The low side of an oblique pelvis.
    pub fn low_side(&self) -> Option<Side> {
        match self.pelvis {
            Pelvis::Oblique(obliquity) => Some(obliquity.low_side),
            Pelvis::Level | Pelvis::NotChecked => None,
        }
    }
}

impl ClearanceFound {
    /// The clearance under one ischium.
    pub fn under(self, side: Side) -> Clearance {
        match side {
            Side::Left => self.left,
            Side::Right => self.right,
        }
    }

    /// The imprint under one ischium, where a feeler was used.
    pub fn imprint(self, side: Side) -> Option<Imprint> {
        match (self.how, side) {
            (ClearanceHow::Hand, _) => None,
            (ClearanceHow::Feeler { left, .. }, Side::Left) => Some(left),
            (ClearanceHow::Feeler { right, .. }, Side::Right) => Some(right),
        }
    }
}

impl Imprint {
    /// The words in settings, each with what it says.
    pub const WORDS: &[(&'static str, Self)] =
        &[("none", Self::None), ("faint", Self::Faint), ("deep", Self::Deep)];

    /// The word in settings.
    pub fn id(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Faint => "faint",
            Self::Deep => "deep",
        }
    }
}

impl Bearing {
    /// All bearings.
    pub const ALL: [Self; 3] = [Self::OffLoaded, Self::Loaded, Self::Unknown];

    /// The word in settings.
    pub fn id(self) -> &'static str {
        match self {
            Self::OffLoaded => "off-loaded",
            Self::Loaded => "loaded",
            Self::Unknown => "unknown",
        }
    }
}
