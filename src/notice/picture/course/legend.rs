//! The legend: the signs that a chart uses, with their words.
//!
//! Never here: signs that are not used.
//! Promises: a text never leaves its column; long words take a second line.

use std::collections::BTreeSet;

use super::super::ink::TEXT;
use super::super::svg::{Anchor, Svg, wrapped};
use super::key::Key;
use super::layout::{SMALL_TEXT, Width};
use crate::notice::wording::Wording;

const LINE: f64 = 15.0;
const GAP: f64 = 6.0;
const MARGIN: f64 = 8.0;
/// From the left of a column to its words.
const SIGN: f64 = 24.0;

/// Draws the legend from a height on; returns where it ends.
pub(super) fn draw(
    svg: &mut Svg,
    keys: &BTreeSet<Key>,
    (from, width): (f64, Width),
    w: &Wording,
) -> f64 {
    let columns = match width {
        Width::Phone => 2,
        Width::Page => 4,
    };
    let each = (width.units() - 2.0 * MARGIN) / f64::from(columns);
    let mut feet = vec![from; columns as usize];
    for key in keys {
        let lines = wrapped(&key.words(w), SMALL_TEXT, each - SIGN - 4.0);
        // Whichever column is shortest takes the next, the first of them at equal length.
        let mut column = 0;
        for (index, foot) in feet.iter().enumerate() {
            if *foot < feet[column] {
                column = index;
            }
        }
        let (x, y) = (MARGIN + each * column as f64, feet[column]);
        key.draw(svg, (x + 9.0, y + 8.0));
        for (line, text) in lines.iter().enumerate() {
            let at = (x + SIGN, y + 12.0 + LINE * line as f64);
            svg.text(at, SMALL_TEXT, TEXT, Anchor::Start, text);
        }
        feet[column] += LINE * lines.len().max(1) as f64 + GAP;
    }
    feet.into_iter().fold(from, f64::max)
}
