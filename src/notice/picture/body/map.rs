//! The maps: where the places are, and where marks were seen.
//!
//! Never here: the body (`outline`), counting (`marks`).
//! Promises: a label stands on the side that it names, on its own line, and inside the picture.

use super::super::course::Fade;
use super::super::ink::{AXIS, LIMIT, PAPER, SMALL, TEXT};
use super::super::svg::{Anchor, Stroke, Svg, text_width, wrapped};
use super::marks::{Marked, Marks};
use super::outline::{self, Stand};
use super::spots::spots;
use crate::care::{Place, Side, Site};
use crate::notice::wording::Wording;

pub(super) const WIDTH: f64 = 372.0;
const LABEL_TEXT: f64 = 13.0;
const LINE: f64 = 15.0;
const HEAD: f64 = 22.0;
/// How wide a label may be: the room between the edge and the body.
const LABEL_WIDTH: f64 = 105.0;
const EDGE: f64 = 4.0;

/// Something with a name beside the body.
struct Label {
    lines: Vec<String>,
    /// How many of them are the name; what was seen follows.
    name_lines: usize,
    /// The spots that it names; the first is led to.
    spots: Vec<(f64, f64)>,
    marks: Option<Marks>,
    site: Site,
}

/// Draws the map of all places; returns its height.
pub(super) fn places(svg: &mut Svg, w: &Wording) -> f64 {
    let left = [
        Place::ShoulderBlade,
        Place::Elbow,
        Place::Buttock,
        Place::Trochanter,
        Place::Thigh,
        Place::Knee,
        Place::Ankle,
    ];
    let right = [
        Place::Spine,
        Place::Sacrum,
        Place::Coccyx,
        Place::Ischium,
        Place::Perineum,
        Place::Heel,
        Place::Foot,
    ];
    let labels = |places: [Place; 7], side: Side| {
        places.map(|place| {
            let site = Site::sided(place, side);
            let name = w.sites([&Site::unsided(place)]);
            let lines = wrapped(&name, LABEL_TEXT, LABEL_WIDTH);
            let name_lines = lines.len();
            Label { lines, name_lines, spots: spots(site), marks: None, site }
        })
    };
    let stand = stand();
    header(svg, w);
    outline::draw(svg, stand);
    for place in Place::ALL {
        for spot in spots(Site::unsided(place)) {
            svg.circle(stand.at(spot), 4.0, PAPER, Some(Stroke::solid(TEXT.ink, 1.4)));
        }
    }
    column(svg, stand, labels(left, Side::Left).into(), Side::Left);
    column(svg, stand, labels(right, Side::Right).into(), Side::Right);
    footer(svg, stand, w, &[])
}

/// Draws the map of marks; returns its height.
pub(super) fn marked(svg: &mut Svg, w: &Wording, marked: &Marked) -> f64 {
    let stand = stand();
    header(svg, w);
    outline::draw(svg, stand);
    let (mut left, mut right, mut beside) = (Vec::new(), Vec::new(), Vec::new());
    for (site, marks) in &marked.sites {
        let name = w.sites([site]);
        let note = note(*marks, w);
        let spots = spots(*site);
        if spots.is_empty() {
            beside.push(format!("{name}: {note}"));
            continue;
        }
        let mut lines = wrapped(&name, LABEL_TEXT, LABEL_WIDTH);
        let name_lines = lines.len();
        lines.extend(wrapped(&note, LABEL_TEXT, LABEL_WIDTH));
        let label = Label { lines, name_lines, spots, marks: Some(*marks), site: *site };
        match site.side() {
            Some(Side::Left) => left.push(label),
            Some(Side::Right) => right.push(label),
            None if left.len() < right.len() => left.push(label),
            None => right.push(label),
        }
    }
    if marked.unplaced > 0 {
        beside.push(w.picture_unplaced(&marked.unplaced));
    }
    column(svg, stand, left, Side::Left);
    column(svg, stand, right, Side::Right);
    footer(svg, stand, w, &beside)
}

/// What is known of the marks at a site, in words: the worst, and in how many sittings.
pub(super) fn note(marks: Marks, w: &Wording) -> String {
    let worst = words(marks.worst, w);
    if marks.times > 1 { w.picture_times(&worst, &marks.times) } else { worst }
}

/// What is known of a mark, in words.
fn words(fade: Fade, w: &Wording) -> String {
    match fade {
        Fade::Clear => w.finding_clear(),
        Fade::Within(_) | Fade::Stated(_) => w.finding_faded(),
        Fade::NotKnown(_) => w.picture_mark_not_known(),
        Fade::Lasted(_) => w.finding_persisting(),
        Fade::Alarming => w.finding_alarming(),
    }
}

fn stand() -> Stand {
    Stand { middle: WIDTH / 2.0, top: HEAD + 12.0 + outline::ABOVE, scale: 1.0 }
}

/// Which side is which, large, over the body.
fn header(svg: &mut Svg, w: &Wording) {
    svg.text((EDGE, HEAD - 4.0), 14.5, TEXT, Anchor::Start, &w.picture_left());
    svg.text((WIDTH - EDGE, HEAD - 4.0), 14.5, TEXT, Anchor::End, &w.picture_right());
    svg.text((WIDTH / 2.0, HEAD - 4.0), 12.0, SMALL, Anchor::Middle, &w.picture_behind());
}

/// The labels of one side, each beside its spot as far as there is room, with a line to it.
fn column(svg: &mut Svg, stand: Stand, mut labels: Vec<Label>, side: Side) {
    let height = |label: &Label| label.lines.len() as f64 * LINE;
    labels.sort_by(|a, b| a.spots[0].1.total_cmp(&b.spots[0].1));
    let foot = stand.at((0.0, outline::BELOW)).1;
    let mut below: f64 = labels.iter().map(|label| height(label) + 5.0).sum();
    let mut free_from = HEAD + 8.0;
    for label in labels {
        let spot = match side {
            Side::Left => label.spots[0],
            Side::Right => label.spots[label.spots.len() - 1],
        };
        let spot = stand.at(spot);
        let tall = height(&label);
        // As near to its spot as the labels above and below allow.
        let top = (spot.1 - tall / 2.0).min(foot - below).max(free_from);
        free_from = top + tall + 5.0;
        below -= tall + 5.0;
        draw_label(svg, stand, &label, (top, tall), spot, side);
    }
}

fn draw_label(
    svg: &mut Svg,
    stand: Stand,
    label: &Label,
    (top, tall): (f64, f64),
    spot: (f64, f64),
    side: Side,
) {
    let mut data = vec![("site", label.site.to_string())];
    if let Some(marks) = label.marks {
        data.push(("times", marks.times.to_string()));
    }
    svg.open(&data);
    let (edge, anchor, inward) = match side {
        Side::Left => (EDGE, Anchor::Start, 1.0),
        Side::Right => (WIDTH - EDGE, Anchor::End, -1.0),
    };
    let widest = label.lines.iter().map(|line| text_width(line, LABEL_TEXT)).fold(0.0, f64::max);
    let from = (edge + inward * (widest.min(LABEL_WIDTH) + 4.0), top + tall / 2.0);
    let stroke = Stroke::solid(if label.marks.is_some() { TEXT.ink } else { AXIS.ink }, 1.0);
    svg.line(from, spot, stroke);
    for place in &label.spots {
        let centre = stand.at(*place);
        match label.marks {
            Some(marks) => mark(svg, centre, marks.worst, label.spots.len() > 1),
            None => svg.circle(centre, 4.0, PAPER, Some(Stroke::solid(TEXT.ink, 1.4))),
        }
    }
    for (line, text) in label.lines.iter().enumerate() {
        let y = top + LINE * (line as f64 + 1.0) - 3.5;
        let pair = if line < label.name_lines { TEXT } else { SMALL };
        svg.text((edge, y), LABEL_TEXT, pair, anchor, text);
    }
    svg.close();
}

/// A mark's sign: its shape says what is known of it. Dashed where the side was not said.
fn mark(svg: &mut Svg, (x, y): (f64, f64), worst: Fade, is_unsided: bool) {
    let edge = |width| {
        Some(if is_unsided {
            Stroke::dashed(TEXT.ink, width, "3 2")
        } else {
            Stroke::solid(TEXT.ink, width)
        })
    };
    match worst {
        Fade::Clear | Fade::Within(_) | Fade::Stated(_) => {
            svg.circle((x, y), if is_unsided { 9.0 } else { 7.0 }, PAPER, edge(2.6));
        }
        Fade::NotKnown(_) => {
            svg.circle((x, y), 9.0, PAPER, edge(2.0));
            svg.text((x, y + 4.5), 12.0, TEXT, Anchor::Middle, "?");
        }
        Fade::Lasted(_) => {
            let white = Some(Stroke::solid(PAPER, 1.5));
            let corners = [(x, y - 10.0), (x + 10.0, y), (x, y + 10.0), (x - 10.0, y)];
            svg.polygon(&corners, LIMIT.ink, if is_unsided { edge(1.5) } else { white });
        }
        Fade::Alarming => {
            let corners = [(x, y - 11.0), (x + 11.0, y + 8.5), (x - 11.0, y + 8.5)];
            let white = Some(Stroke::solid(PAPER, 1.5));
            svg.polygon(&corners, LIMIT.ink, if is_unsided { edge(1.5) } else { white });
            svg.text((x, y + 6.5), 13.0, super::super::ink::INVERSE, Anchor::Middle, "!");
        }
    }
}

/// Under the body: what the seat's band means, and what has no place on the drawing.
fn footer(svg: &mut Svg, stand: Stand, w: &Wording, beside: &[String]) -> f64 {
    let mut y = stand.at((0.0, outline::BELOW)).1 + 10.0;
    outline::seat_swatch(svg, (EDGE, y));
    for text in wrapped(&w.picture_seat(), 12.0, WIDTH - 2.0 * EDGE - 24.0) {
        svg.text((EDGE + 24.0, y + 10.0), 12.0, SMALL, Anchor::Start, &text);
        y += LINE;
    }
    y += 4.0;
    for line in beside.iter().flat_map(|text| wrapped(text, LABEL_TEXT, WIDTH - 2.0 * EDGE)) {
        svg.text((EDGE, y + 10.0), LABEL_TEXT, TEXT, Anchor::Start, &line);
        y += LINE;
    }
    (y + 4.0).ceil()
}
