//! Pictures: the course of a follow-up, where the places are, where marks were seen. Drawn as SVG
//! in code, turned into PNG with the font that goes with the program.
//!
//! Never here: rules, clocks, files, system fonts.
//! Promises: the same values give the same bytes; nothing is said by colour alone; each picture
//! says in words what it shows, and carries its data.

mod body;
mod course;
mod ink;
mod raster;
mod svg;

use body::Marked;
pub use course::Width;

use super::wording::Wording;
use crate::care::Plan;
use crate::follow_up::{Entry, State};

/// A drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawing {
    /// The drawing as SVG.
    pub svg: String,
    /// What it shows, in words.
    pub described: String,
}

/// Sittings that the map of marks looks back on in a mail.
const SITTINGS_BACK: usize = 10;

impl Drawing {
    /// The course of a follow-up. `entries` is its journal from the first entry on, `state` what
    /// it adds up to.
    pub fn course(
        w: &Wording,
        state: &State,
        plan: &Plan,
        entries: &[Entry],
        width: Width,
    ) -> Self {
        course::course(w, (state, plan), entries, width)
    }

    /// Where marks were seen: at the last ten sittings for a phone, at all of them for a page.
    /// None where there was no mark.
    pub fn marks(w: &Wording, state: &State, plan: &Plan, width: Width) -> Option<Self> {
        let sittings_max = match width {
            Width::Phone => SITTINGS_BACK,
            Width::Page => usize::MAX,
        };
        body::marked(w, &Marked::of(state, plan.looks.fade_limit, sittings_max))
    }

    /// Where the places are that a caregiver is asked to look at.
    pub fn places(w: &Wording) -> Self {
        body::places(w)
    }

    /// The drawing as PNG, with `scale` picture points for each unit: a phone's screen is about
    /// 350 units wide.
    pub fn png(&self, scale: f32) -> Vec<u8> {
        raster::png(&self.svg, scale)
    }
}
