//! The picture of a follow-up's course.
//!
//! Never here: rules: what counts and what stopped is read from the journal.
//! Promises: the same journal gives the same bytes.

mod chart;
mod described;
mod fade;
mod history;
mod key;
mod layout;
mod legend;

pub(super) use fade::Fade;
pub use layout::Width;

use history::History;
use layout::Layout;

use super::Drawing;
use super::ink::{PAPER, SMALL};
use super::svg::{Anchor, Svg};
use crate::care::Plan;
use crate::follow_up::{Entry, State};
use crate::notice::wording::Wording;

/// Draws the course of a follow-up. `entries` is its journal from the first entry on, `state`
/// what it adds up to. With more columns than can be told apart, the last are shown.
pub(super) fn course(
    w: &Wording,
    (state, plan): (&State, &Plan),
    entries: &[Entry],
    width: Width,
) -> Drawing {
    let history = History::of(state, plan, entries);
    let shown = history.last(width.columns_max());
    let layout = Layout::of(&history, shown, width);
    let zone = &state.terms.zone;
    let described = described::described((&history, shown), w, zone);
    let mut svg = Svg::default();
    let keys = chart::draw(&mut svg, (&history, shown), &layout, w, zone);
    let mut foot = Layout::LEGEND;
    if let Some(cut) = history.cut(shown, w) {
        svg.text((8.0, foot + 6.0), layout::SMALL_TEXT, SMALL, Anchor::Start, &cut);
        foot += 20.0;
    }
    let foot = legend::draw(&mut svg, &keys, (foot, width), w);
    let size = (layout.width, (foot + 4.0).ceil());
    Drawing { svg: svg.finished(size, PAPER, &described, key::PATTERNS), described }
}
