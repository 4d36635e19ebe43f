//! The values that a fit is held to: a clinic's own, or common practice.
//!
//! Never here: holding a fit to them (`review`), TOML.
//! Promises: the least clearance is not above the most.

use super::{Clearance, Imprint};
use crate::care::RiskLevel;

/// What a clinic holds a fit to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FitPractice {
    /// The least clearance under an ischium, after build-up.
    pub clearance_least: Clearance,
    /// The most; not below the least.
    pub clearance_most: Clearance,
    /// How thick the feeler is that is left under a site during a sitting.
    pub feeler_thickness: Clearance,
    /// The deepest imprint on that feeler that still passes.
    pub imprint_most: Imprint,
    /// The most pieces on each side, with as many on the other, before another seat is considered.
    pub build_up_pairs_most: u32,
    /// The most pieces on one side, with fewer on the other, before another seat is considered.
    pub build_up_one_side_most: u32,
    /// The risk levels for which comfort fill may be used.
    pub comfort_fill_for: Vec<RiskLevel>,
}

impl FitPractice {
    /// Common practice in fitting such seats. No published source states any of these values.
    pub fn common() -> Self {
        let inch = |sixteenths| {
            Clearance::from_sixteenths_of_inch(sixteenths).expect("OK because it is below 200 mm")
        };
        Self {
            clearance_least: inch(8),
            clearance_most: inch(12),
            feeler_thickness: inch(12),
            imprint_most: Imprint::Faint,
            build_up_pairs_most: 2,
            build_up_one_side_most: 2,
            comfort_fill_for: RiskLevel::new("low").into_iter().collect(),
        }
    }
}
