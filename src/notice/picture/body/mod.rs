//! The pictures of the body: where the places are, and where marks were seen.
//!
//! Never here: the course over time.
//! Promises: the client's left is on the left, and the picture says so.

mod map;
mod marks;
mod outline;
mod spots;

pub(super) use marks::Marked;

use super::Drawing;
use super::ink::PAPER;
use super::svg::Svg;
use crate::notice::wording::Wording;

/// Where the places are.
pub(super) fn places(w: &Wording) -> Drawing {
    let mut svg = Svg::default();
    let height = map::places(&mut svg, w);
    let described = w.picture_places();
    Drawing { svg: svg.finished((map::WIDTH, height), PAPER, &described, ""), described }
}

/// Where marks were seen; none where there was no mark.
pub(super) fn marked(w: &Wording, marked: &Marked) -> Option<Drawing> {
    if marked.sites.is_empty() && marked.unplaced == 0 {
        return None;
    }
    let mut svg = Svg::default();
    let height = map::marked(&mut svg, w, marked);
    let described = described(w, marked);
    Some(Drawing { svg: svg.finished((map::WIDTH, height), PAPER, &described, ""), described })
}

fn described(w: &Wording, marked: &Marked) -> String {
    let sites = marked
        .sites
        .iter()
        .map(|(site, marks)| format!("{} ({})", w.sites([site]), map::note(*marks, w)));
    let unplaced = (marked.unplaced > 0).then(|| w.picture_unplaced(&marked.unplaced));
    let sittings = w.counted("count.sittings", marked.sittings);
    w.picture_marked(&w.list(sites.chain(unplaced)), &sittings)
}
