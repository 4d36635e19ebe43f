//! A body seen from behind, as if the bent legs were folded down flat: back, seat, legs, feet.
//! Our own drawing, not to scale: the places that bear load in a seat have the most room.
//!
//! Never here: marks, words.
//! Promises: left and right are mirror images; seen from behind, the client's left is on the left.

use super::super::ink::{BONE, SEAT, SKIN};
use super::super::svg::{Stroke, Svg, number};

/// A point beside the midline: how far to the client's right, and how far down.
type Point = (f64, f64);
/// A curve from where the last one ended: two control points and the end.
type Curve = (Point, Point, Point);

/// Where the body stands on the canvas.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stand {
    /// The midline.
    pub(super) middle: f64,
    /// The height of the shoulders' upper edge.
    pub(super) top: f64,
    pub(super) scale: f64,
}

impl Stand {
    pub(super) fn at(&self, (across, down): Point) -> Point {
        (self.middle + across * self.scale, self.top + down * self.scale)
    }
}

/// How far the body reaches above and below its origin.
pub(super) const ABOVE: f64 = 46.0;
pub(super) const BELOW: f64 = 396.0;

/// The right half of trunk and legs, from the neck down the outside and up the inside.
const TRUNK: [Curve; 16] = [
    ((5.0, -8.0), (9.0, -8.0), (9.0, -6.0)),
    ((9.0, 8.0), (14.0, 13.0), (28.0, 17.0)),
    ((42.0, 20.0), (53.0, 26.0), (54.0, 40.0)),
    ((52.0, 56.0), (47.0, 66.0), (46.0, 78.0)),
    ((44.0, 94.0), (43.0, 106.0), (43.0, 118.0)),
    ((44.0, 138.0), (57.0, 146.0), (60.0, 172.0)),
    ((62.0, 200.0), (58.0, 226.0), (54.0, 250.0)),
    ((51.0, 272.0), (42.0, 286.0), (41.0, 300.0)),
    ((41.0, 314.0), (44.0, 322.0), (42.0, 334.0)),
    ((40.0, 350.0), (31.0, 358.0), (30.0, 368.0)),
    ((30.0, 376.0), (46.0, 379.0), (47.0, 387.0)),
    ((47.0, 395.0), (15.0, 395.0), (13.0, 388.0)),
    ((12.0, 380.0), (16.0, 374.0), (15.0, 366.0)),
    ((15.0, 354.0), (10.0, 344.0), (9.0, 332.0)),
    ((8.0, 320.0), (11.0, 310.0), (10.0, 298.0)),
    ((8.0, 272.0), (4.0, 244.0), (0.0, 220.0)),
];

const ARM: [Curve; 7] = [
    ((62.0, 34.0), (64.0, 52.0), (66.0, 70.0)),
    ((68.0, 84.0), (75.0, 92.0), (76.0, 103.0)),
    ((77.0, 122.0), (73.0, 142.0), (71.0, 156.0)),
    ((76.0, 168.0), (74.0, 180.0), (67.0, 180.0)),
    ((60.0, 179.0), (61.0, 168.0), (63.0, 156.0)),
    ((63.0, 140.0), (63.0, 122.0), (61.0, 106.0)),
    ((57.0, 88.0), (50.0, 60.0), (48.0, 34.0)),
];

/// Draws the body and the band of it that rests on the seat.
pub(super) fn draw(svg: &mut Svg, stand: Stand) {
    let edge = Some(Stroke::solid(BONE.ink, 1.4));
    let (upper, lower) = (stand.at((-70.0, 184.0)), stand.at((70.0, 276.0)));
    let seat = Some(Stroke::dashed(SEAT.ink, 1.4, "6 4"));
    svg.rect(upper, (lower.0 - upper.0, lower.1 - upper.1), SEAT.ground, seat);
    for side in [-1.0, 1.0] {
        svg.path(&format!("{} Z", curves((48.0, 34.0), &ARM, stand, side)), SKIN, edge);
    }
    let right = curves((0.0, -8.0), &TRUNK, stand, 1.0);
    let left = back(&TRUNK, (0.0, -8.0), stand);
    svg.path(&format!("{right}{left} Z"), SKIN, edge);
    let head = stand.at((0.0, -25.0));
    svg.circle(head, 20.0 * stand.scale, SKIN, edge);
    folds(svg, stand);
}

/// The creases and bones that help to find a place.
fn folds(svg: &mut Svg, stand: Stand) {
    let thin = Some(Stroke::solid(BONE.ink, 1.1));
    let dotted = Some(Stroke::dashed(BONE.ink, 1.1, "2 2"));
    let cleft = curves((0.0, 180.0), &[((0.0, 190.0), (0.0, 205.0), (0.0, 220.0))], stand, 1.0);
    svg.path(&cleft, "none", thin);
    let spine = curves((0.0, 8.0), &[((0.0, 60.0), (0.0, 110.0), (0.0, 146.0))], stand, 1.0);
    svg.path(&spine, "none", dotted);
    let sacrum = [(-13.0, 148.0), (13.0, 148.0), (0.0, 176.0)].map(|point| stand.at(point));
    svg.polygon(&sacrum, "none", dotted);
    for side in [-1.0, 1.0] {
        let fold = [((16.0, 222.0), (38.0, 222.0), (53.0, 208.0))];
        svg.path(&curves((3.0, 212.0), &fold, stand, side), "none", thin);
        let knee = [((18.0, 303.0), (30.0, 303.0), (36.0, 299.0))];
        svg.path(&curves((14.0, 299.0), &knee, stand, side), "none", thin);
        let blade = [(13.0 * side, 36.0), (36.0 * side, 42.0), (22.0 * side, 70.0)];
        svg.polygon(&blade.map(|point| stand.at(point)), "none", dotted);
        let centre = stand.at((20.0 * side, 198.0));
        svg.circle(centre, 8.0 * stand.scale, "none", dotted);
    }
}

/// A path through curves, on one side: 1 is the client's right, -1 the left.
fn curves(from: Point, curves: &[Curve], stand: Stand, side: f64) -> String {
    let shown = |(across, down): Point| {
        let (x, y) = stand.at((across * side, down));
        format!("{} {}", number(x), number(y))
    };
    let mut path = format!("M {}", shown(from));
    for (first, second, end) in curves {
        path.push_str(&format!(" C {} {} {}", shown(*first), shown(*second), shown(*end)));
    }
    path
}

/// The same curves mirrored and walked back, to go on from where the right half ended.
fn back(half: &[Curve], from: Point, stand: Stand) -> String {
    let shown = |(across, down): Point| {
        let (x, y) = stand.at((-across, down));
        format!("{} {}", number(x), number(y))
    };
    let mut path = String::new();
    for (index, (first, second, _)) in half.iter().enumerate().rev() {
        let end = if index == 0 { from } else { half[index - 1].2 };
        path.push_str(&format!(" C {} {} {}", shown(*second), shown(*first), shown(end)));
    }
    path
}

/// Where a swatch of the seat's band is drawn in a legend.
pub(super) fn seat_swatch(svg: &mut Svg, (x, y): Point) {
    let seat = Some(Stroke::dashed(SEAT.ink, 1.2, "4 3"));
    svg.rect((x, y), (18.0, 12.0), SEAT.ground, seat);
}
