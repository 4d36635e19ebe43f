//! Where everything stands in the chart.
//!
//! Never here: drawing, words, what the columns mean.
//! Promises: columns keep their order and do not overlap; heights are to scale, from zero.

use super::history::{Column, History, What};

/// How wide the chart is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Width {
    /// For a phone's screen, 350 units: hardly more than the points that a mail has there, so that
    /// small text stays readable.
    Phone,
    /// For a printed page, 700 units.
    Page,
}

/// Sizes in units of the drawing.
pub(super) const SMALL_TEXT: f64 = 12.0;
pub(super) const TITLE_TEXT: f64 = 13.5;

const LEFT: f64 = 34.0;
const RIGHT: f64 = 62.0;
/// A sign between sittings.
const SIGN: f64 = 18.0;
/// The column of the projection.
const EXPECTED: f64 = 40.0;
/// A few sittings spread out; more stand closer.
const SITTING_MAX: f64 = 44.0;

/// The places of the chart.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) width: f64,
    pub(super) left: f64,
    /// Where the plot ends and its labels begin.
    pub(super) right: f64,
    /// The middle of each column, and how wide it is.
    pub(super) columns: Vec<(f64, f64)>,
    /// The middle of the projection's column.
    pub(super) expected: f64,
    /// Minutes at the top of the upper and of the lower part.
    sat_max: f64,
    fade_max: f64,
}

impl Layout {
    pub(super) const STEPS: f64 = 40.0;
    pub(super) const SAT_TOP: f64 = 48.0;
    pub(super) const SAT_FOOT: f64 = 138.0;
    pub(super) const SIGNS: f64 = 152.0;
    pub(super) const FADE_TITLE: f64 = 184.0;
    pub(super) const FADE_TOP: f64 = 194.0;
    pub(super) const FADE_FOOT: f64 = 312.0;
    pub(super) const DAYS: f64 = 328.0;
    pub(super) const MONTHS: f64 = 343.0;
    pub(super) const LEGEND: f64 = 366.0;

    pub(super) fn of(history: &History, shown: &[Column], width: Width) -> Self {
        let width = width.units();
        let (left, right) = (LEFT, width - RIGHT);
        let reserved = if history.expected.is_some() { EXPECTED } else { 0.0 };
        let signs = shown.iter().filter(|column| matches!(column.what, What::Sign(_))).count();
        let rest = (shown.len() - signs).max(1);
        let room = right - left - 6.0 - reserved - signs as f64 * SIGN;
        let each = (room / rest as f64).min(SITTING_MAX);
        let mut x = left + 4.0;
        let columns: Vec<(f64, f64)> = shown
            .iter()
            .map(|column| {
                let wide = if matches!(column.what, What::Sign(_)) { SIGN } else { each };
                x += wide;
                (x - wide / 2.0, wide)
            })
            .collect();
        let expected = x + EXPECTED / 2.0;
        let (sat_max, fade_max) = tops(history, shown);
        Self { width, left, right, columns, expected, sat_max, fade_max }
    }

    /// The height of so many minutes of sitting.
    pub(super) fn sat(&self, minutes: f64) -> f64 {
        (Self::SAT_FOOT - Self::SAT_TOP) * minutes / self.sat_max
    }

    /// The place of a fade time; what is above the top stays at the top.
    pub(super) fn fade(&self, minutes: f64) -> f64 {
        let share = (minutes / self.fade_max).clamp(0.0, 1.0);
        Self::FADE_FOOT - (Self::FADE_FOOT - Self::FADE_TOP) * share
    }
}

impl Width {
    pub(super) fn units(self) -> f64 {
        match self {
            Self::Phone => 350.0,
            Self::Page => 700.0,
        }
    }

    /// How many columns can still be told apart.
    pub(super) fn columns_max(self) -> usize {
        match self {
            Self::Phone => 26,
            Self::Page => 60,
        }
    }
}

/// The minutes at the top of both parts: whatever is shown fits, and so does the limit with room
/// above it for what goes over it.
fn tops(history: &History, shown: &[Column]) -> (f64, f64) {
    let mut sat_max = history.expected.map_or(0, |expected| expected.sit.count());
    let mut fade_max = history.limit.count() * 3 / 2;
    for column in shown {
        let fade = match &column.what {
            What::Sitting(sat) => {
                sat_max = sat_max.max(sat.planned.count());
                sat.fade
            }
            What::Routine { fade, .. } => *fade,
            What::Sign(_) => None,
        };
        if let Some((from, to)) = fade.and_then(|fade| fade.bounds()) {
            let highest = to.unwrap_or(from).count();
            fade_max = fade_max.max(highest + highest / 8);
        }
    }
    (f64::from(sat_max.max(1)), f64::from(fade_max.max(1)))
}
