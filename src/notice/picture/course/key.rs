//! The signs of the chart: each with a shape of its own, its words and its name in the data.
//!
//! Never here: where a sign stands.
//! Promises: no two signs differ by colour alone.

use std::f64::consts::PI;

use super::super::ink::{AXIS, BAR, INVERSE, LIMIT, PAPER, SMALL, TEXT};
use super::super::svg::{Anchor, Stroke, Svg};
use super::fade::Fade;
use super::history::{CameTo, Sign};
use crate::notice::wording::Wording;

/// Everything that the legend may explain, in its order there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    Sitting(CameTo),
    RoutineLook,
    Clear,
    Stated,
    Within,
    NotKnown,
    Lasted,
    Alarming,
    Missed,
    Expected,
    Sign(Sign),
}

impl From<Fade> for Key {
    fn from(fade: Fade) -> Self {
        match fade {
            Fade::Clear => Self::Clear,
            Fade::Within(_) => Self::Within,
            Fade::Stated(_) => Self::Stated,
            Fade::NotKnown(_) => Self::NotKnown,
            Fade::Lasted(_) => Self::Lasted,
            Fade::Alarming => Self::Alarming,
        }
    }
}

impl Key {
    /// What it means, in the reader's language.
    pub(super) fn words(self, w: &Wording) -> String {
        match self {
            Self::Sitting(CameTo::Credit) => w.picture_credit(),
            Self::Sitting(CameTo::NoCredit) => w.picture_no_credit(),
            Self::Sitting(CameTo::CutShort) => w.picture_cut_short(),
            Self::Sitting(CameTo::Cancelled) => w.picture_cancelled(),
            Self::Sitting(CameTo::Open) => w.picture_open(),
            Self::RoutineLook => w.picture_routine_look(),
            Self::Clear => w.picture_clear(),
            Self::Stated => w.picture_stated(),
            Self::Within => w.picture_within(),
            Self::NotKnown => w.picture_not_known(),
            Self::Lasted => w.picture_lasted(),
            Self::Alarming => w.picture_alarming(),
            Self::Missed => w.picture_missed(),
            Self::Expected => w.picture_expected(),
            Self::Sign(sign) => sign.words(w),
        }
    }

    /// The sign within about 14 by 14, around a point.
    pub(super) fn draw(self, svg: &mut Svg, (x, y): (f64, f64)) {
        match self {
            Self::Sitting(CameTo::Cancelled) => cancelled(svg, (x, y)),
            Self::Sitting(came_to) => bar(svg, (x - 4.0, y + 7.0), (8.0, 14.0, 8.0), came_to),
            Self::RoutineLook => {
                svg.circle((x, y), 4.5, PAPER, Some(Stroke::solid(TEXT.ink, 1.5)));
                svg.circle((x, y), 1.5, TEXT.ink, None);
            }
            Self::Clear => {
                svg.circle((x, y), 3.2, PAPER, Some(Stroke::solid(BAR.ink, 1.6)));
            }
            Self::Stated => stated(svg, x, (y + 7.0, y - 3.0)),
            Self::Within => within(svg, x, (y + 7.0, y - 7.0)),
            Self::NotKnown => not_known(svg, x, (y + 9.0, y + 9.0, y - 10.0)),
            Self::Lasted => lasted(svg, x, (y + 8.0, y - 8.0)),
            Self::Alarming => {
                let corners = [(x, y - 8.0), (x + 8.0, y + 6.5), (x - 8.0, y + 6.5)];
                svg.polygon(&corners, LIMIT.ink, Some(Stroke::solid(LIMIT.ink, 1.0)));
                svg.text((x, y + 5.0), 11.0, INVERSE, Anchor::Middle, "!");
            }
            Self::Missed => {
                svg.rect(
                    (x - 4.5, y - 6.5),
                    (9.0, 13.0),
                    PAPER,
                    Some(Stroke::dashed(TEXT.ink, 1.2, "2 1.5")),
                );
                svg.text((x, y + 4.0), 11.0, TEXT, Anchor::Middle, "?");
            }
            Self::Expected => {
                let corners = [(x, y - 6.0), (x + 6.0, y), (x, y + 6.0), (x - 6.0, y)];
                svg.polygon(&corners, PAPER, Some(Stroke::dashed(TEXT.ink, 1.8, "2.5 1.5")));
            }
            Self::Sign(sign) => sign.draw(svg, (x, y)),
        }
    }
}

impl Sign {
    /// Its name in the drawing's data.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Stopped => "stopped",
            Self::Suspended => "suspended",
            Self::Held => "held",
            Self::Paused => "paused",
            Self::GoesOn => "goes-on",
            Self::Adopted => "adopted",
            Self::Routine => "routine",
            Self::Closed => "closed",
        }
    }

    /// What it means, in the reader's language.
    pub(super) fn words(self, w: &Wording) -> String {
        match self {
            Self::Stopped => w.picture_stopped(),
            Self::Suspended => w.picture_suspended(),
            Self::Held => w.picture_held(),
            Self::Paused => w.picture_paused(),
            Self::GoesOn => w.picture_goes_on(),
            Self::Adopted => w.picture_adopted(),
            Self::Routine => w.picture_routine(),
            Self::Closed => w.picture_closed(),
        }
    }

    fn draw(self, svg: &mut Svg, (x, y): (f64, f64)) {
        let thin = Some(Stroke::solid(TEXT.ink, 1.6));
        match self {
            Self::Stopped => {
                svg.polygon(&octagon((x, y), 8.0), LIMIT.ink, None);
                svg.rect((x - 4.5, y - 1.5), (9.0, 3.0), PAPER, None);
            }
            Self::Suspended => {
                svg.polygon(&octagon((x, y), 7.0), PAPER, thin);
                svg.text((x, y + 4.0), 11.0, TEXT, Anchor::Middle, "?");
            }
            Self::Held => {
                svg.rect((x - 6.0, y - 7.0), (12.0, 2.4), TEXT.ink, None);
                let corners = [(x, y - 3.5), (x + 4.5, y + 2.0), (x - 4.5, y + 2.0)];
                svg.polygon(&corners, TEXT.ink, None);
                svg.rect((x - 1.2, y + 2.0), (2.4, 5.0), TEXT.ink, None);
            }
            Self::Paused => {
                svg.rect((x - 5.0, y - 6.0), (3.6, 12.0), TEXT.ink, None);
                svg.rect((x + 1.4, y - 6.0), (3.6, 12.0), TEXT.ink, None);
            }
            Self::GoesOn => {
                let corners = [(x - 5.0, y - 6.5), (x + 6.5, y), (x - 5.0, y + 6.5)];
                svg.polygon(&corners, PAPER, thin);
            }
            Self::Adopted => {
                svg.rect((x - 5.0, y - 6.5), (10.0, 13.0), PAPER, thin);
                for line in [-2.5, 0.5, 3.5] {
                    let stroke = Stroke::solid(TEXT.ink, 1.2);
                    svg.line((x - 2.8, y + line), (x + 2.8, y + line), stroke);
                }
            }
            Self::Routine => {
                svg.circle((x, y), 7.0, PAPER, thin);
                let tick = [(x - 3.4, y + 0.2), (x - 0.8, y + 3.0), (x + 3.6, y - 3.0)];
                for pair in tick.windows(2) {
                    svg.line(pair[0], pair[1], Stroke::solid(TEXT.ink, 1.8));
                }
            }
            Self::Closed => svg.rect((x - 5.5, y - 5.5), (11.0, 11.0), TEXT.ink, None),
        }
    }
}

/// The bar of a sitting, from the middle of its foot at the left: `(width, planned, sat)`.
pub(super) fn bar(
    svg: &mut Svg,
    (x, foot): (f64, f64),
    (width, planned, sat): (f64, f64, f64),
    came_to: CameTo,
) {
    let whole = ((x, foot - planned), (width, planned));
    match came_to {
        CameTo::Credit => svg.rect(whole.0, whole.1, BAR.ink, None),
        CameTo::NoCredit => {
            let inside = ((x + 0.8, foot - planned + 0.8), (width - 1.6, planned - 0.8));
            svg.rect(inside.0, inside.1, PAPER, Some(Stroke::solid(BAR.ink, 1.6)));
        }
        CameTo::CutShort => {
            svg.rect(whole.0, whole.1, PAPER, Some(Stroke::dashed(AXIS.ink, 1.0, "2 2")));
            let sat = sat.max(2.0);
            let stroke = Some(Stroke::solid(BAR.ink, 1.2));
            svg.rect((x, foot - sat), (width, sat), "url(#cut)", stroke);
        }
        CameTo::Open => {
            svg.rect(whole.0, whole.1, PAPER, Some(Stroke::dashed(BAR.ink, 1.4, "1 2")));
        }
        CameTo::Cancelled => cancelled(svg, (x + width / 2.0, foot - 5.0)),
    }
}

/// The pattern of a bar that was cut short.
pub(super) const PATTERNS: &str = "<defs><pattern id=\"cut\" width=\"4\" height=\"4\" \
     patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"4\" height=\"4\" \
     fill=\"#ffffff\"/><rect width=\"1.6\" height=\"4\" fill=\"#205880\"/></pattern></defs>\n";

fn cancelled(svg: &mut Svg, (x, y): (f64, f64)) {
    let stroke = Stroke::solid(SMALL.ink, 1.8);
    svg.line((x - 3.5, y - 3.5), (x + 3.5, y + 3.5), stroke);
    svg.line((x - 3.5, y + 3.5), (x + 3.5, y - 3.5), stroke);
}

/// Gone at a stated time: a stem as long as the mark was there, and a full diamond at its end.
pub(super) fn stated(svg: &mut Svg, x: f64, (foot, y): (f64, f64)) {
    svg.line((x, foot), (x, y), Stroke::solid(TEXT.ink, 1.6));
    let corners = [(x, y - 5.0), (x + 5.0, y), (x, y + 5.0), (x - 5.0, y)];
    svg.polygon(&corners, TEXT.ink, Some(Stroke::solid(PAPER, 1.0)));
}

/// Gone at some time between two heights, low and high: an empty beam.
pub(super) fn within(svg: &mut Svg, x: f64, (low, high): (f64, f64)) {
    let beam = ((x - 3.0, high), (6.0, low - high));
    svg.rect(beam.0, beam.1, PAPER, Some(Stroke::solid(TEXT.ink, 1.6)));
}

/// Not known how long: a stem as far as it is known, then dots and a question mark.
pub(super) fn not_known(svg: &mut Svg, x: f64, (foot, seen, high): (f64, f64, f64)) {
    // A stem without length cannot be drawn.
    if foot > seen {
        svg.line((x, foot), (x, seen), Stroke::solid(TEXT.ink, 2.4));
    }
    svg.line((x, seen), (x, high + 11.0), Stroke::dashed(TEXT.ink, 2.4, "2 2.5"));
    svg.text((x, high + 9.0), 12.0, TEXT, Anchor::Middle, "?");
}

/// Still there: a thick arrow through the limit that leaves the chart.
pub(super) fn lasted(svg: &mut Svg, x: f64, (foot, high): (f64, f64)) {
    svg.line((x, foot), (x, high + 5.0), Stroke::solid(LIMIT.ink, 4.0));
    svg.polygon(&[(x, high), (x + 6.5, high + 9.0), (x - 6.5, high + 9.0)], LIMIT.ink, None);
}

fn octagon((x, y): (f64, f64), radius: f64) -> Vec<(f64, f64)> {
    (0..8)
        .map(|corner| {
            let angle = PI / 8.0 + PI / 4.0 * f64::from(corner);
            (x + radius * angle.cos(), y + radius * angle.sin())
        })
        .collect()
}
