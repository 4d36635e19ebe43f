//! Which sites each segment names, with the side where it was said.
//!
//! Never here: whether anything was found there.
//! Promises: a side belongs to the nearest place in its sentence; 'right under' is no side.

use super::clause::{Item, Segment, Stance};
use super::concept::Concept as C;
use crate::care::{Place, Side, Site};

/// A side may stand so many items before its place ('left big bum bone')…
const SIDE_BEFORE_ITEMS_MAX: usize = 4;
/// …or after it ('heel on the left').
const SIDE_AFTER_ITEMS_MAX: usize = 6;

/// A side alone belongs to a place at most so many segments before.
const SEGMENTS_BACK_MAX: usize = 3;

/// The sites named by each segment, in order; no repeats within a segment.
pub(crate) fn sites(segments: &[Segment]) -> Vec<Vec<Site>> {
    let mut out: Vec<Vec<Site>> = segments.iter().map(own_sites).collect();
    for i in 0..segments.len() {
        lend_side(segments, &mut out, i);
        take_back(segments, &mut out, i);
    }
    out
}

/// 'Right hip, no sorry, left hip': the same place on the other side is what was meant.
fn take_back(segments: &[Segment], out: &mut [Vec<Site>], i: usize) {
    // 'Right hip, no wait, left hip': the correction may stand alone.
    let alone = i.checked_sub(1).is_some_and(|b| segments[b].says(C::Mean) && out[b].is_empty());
    let corrects = segments[i].says(C::Mean) || alone;
    if !corrects || !segments[i].has_place() || out[i].len() != 1 {
        return;
    }
    let (before, here) = out.split_at_mut(i);
    let meant = here[0][0];
    let from = i.saturating_sub(SEGMENTS_BACK_MAX);
    let other = |site: &Site| site.place() == meant.place() && site.side() != meant.side();
    if let Some(named) = before[from..].iter_mut().rev().find(|sites| !sites.is_empty())
        && meant.side().is_some()
    {
        named.retain(|site| !other(site));
    }
}

/// Sides as they are said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Said {
    One(Side),
    Both,
}

impl Said {
    fn sites(self, place: Place) -> Vec<Site> {
        match self {
            Self::One(side) => vec![Site::sided(place, side)],
            Self::Both => Site::unsided(place).both_if_unsided(),
        }
    }
}

fn side_at(items: &[Item], i: usize) -> Option<Said> {
    let item = &items[i];
    if item.is(C::Both) {
        return Some(Said::Both);
    }
    let side = match (item.is(C::Left), item.is(C::Right)) {
        (true, false) => Side::Left,
        (false, true) => Side::Right,
        (true, true) => return Some(Said::Both),
        (false, false) => return None,
    };
    // A place that names its own side, 'under her left thigh', has no other meaning.
    if item.place.is_some() {
        return Some(Said::One(side));
    }
    let before = i.checked_sub(1).map(|b| &items[b]);
    let after = items.get(i + 1);
    let named = before.is_some_and(|b| b.is(C::Definite) || b.is(C::Preposition));
    // 'No mark left', 'right under the bone', 'right he is up'.
    let leftover = after.is_none_or(|a| a.place.is_none())
        && before.is_some_and(|b| b.is_any(&[C::Mark, C::Nothing, C::Anything]));
    let placed = before.is_some_and(|b| b.place.is_some());
    let adverb = !placed
        && after.is_some_and(|a| a.is_any(&[C::Preposition, C::Subject, C::Now, C::Person]));
    let leaves = after.is_some_and(|a| a.is_any(&[C::Person, C::It]));
    let is_side = match side {
        Side::Left => !(leftover || leaves) || named,
        Side::Right => !adverb || named,
    };
    is_side.then_some(Said::One(side))
}

fn own_sites(segment: &Segment) -> Vec<Site> {
    let items = &segment.items;
    let mut places: Vec<usize> = (0..items.len()).filter(|i| items[*i].place.is_some()).collect();
    // 'Darker on the left cheek than the right cheek': what it is compared with has nothing.
    if let Some(versus) = items.iter().position(|item| item.is(C::Versus))
        && places.first().is_some_and(|first| *first < versus)
    {
        places.retain(|at| *at < versus);
    }
    let mut taken = vec![false; items.len()];
    let mut out: Vec<Site> = Vec::new();
    for (n, at) in places.iter().enumerate() {
        let Some(place) = items[*at].place else { continue };
        let from = n.checked_sub(1).map_or(0, |p| places[p] + 1);
        let until = places.get(n + 1).copied().unwrap_or(items.len());
        let before = (from.max(at.saturating_sub(SIDE_BEFORE_ITEMS_MAX))..*at)
            .rev()
            .find(|i| !taken[*i] && side_at(items, *i).is_some());
        // With a further place, a side nearer to that one is its own.
        let reach = if until < items.len() { at + 1 + (until - at) / 2 } else { until };
        let after = || {
            (at + 1..reach.min(at + 1 + SIDE_AFTER_ITEMS_MAX))
                .find(|i| !taken[*i] && side_at(items, *i).is_some())
        };
        let side = own_side(items, *at).or(before).or_else(after);
        let named = match side {
            Some(i) => {
                taken[i] = true;
                side_at(items, i).map_or_else(Vec::new, |said| said.sites(place))
            }
            None => vec![Site::unsided(place)],
        };
        push_new(&mut out, named);
    }
    out
}

/// A place phrase that names its own side.
fn own_side(items: &[Item], at: usize) -> Option<usize> {
    items[at].is_any(&[C::Left, C::Right, C::Both]).then_some(at)
}

/// A side alone in a segment belongs to the place beside it: 'both sides, right under the bones',
/// 'left and right heels', 'left heel, sorry I mean the right one'.
fn lend_side(segments: &[Segment], out: &mut [Vec<Site>], i: usize) {
    let segment = &segments[i];
    if segment.has_place() {
        return;
    }
    let items = &segment.items;
    // 'Firmer than the right': that side is only compared with.
    let own = items.iter().position(|item| item.is(C::Versus)).unwrap_or(items.len());
    let Some(said) = (0..own).rev().find_map(|k| side_at(items, k)) else { return };
    if items.iter().any(|item| item.stance == Stance::Denied && item.is_any(&[C::Left, C::Right])) {
        return;
    }
    // 'Two patches on his bottom, both gone': both of the patches.
    if said == Said::Both
        && segment.says(C::Gone)
        && items.iter().any(|item| item.is(C::Both) && !item.raw.contains(' '))
    {
        return;
    }
    let same = |k: usize| segments[k].sentence == segment.sentence;
    // 'Left heel and right elbow, both pink': two that were named, not two sides of one.
    let named = (0..segments.len()).filter(|k| *k != i && same(*k)).flat_map(|k| &out[k]);
    if said == Said::Both && named.filter(|site| site.side().is_some()).count() >= 2 {
        return;
    }
    // 'Scrap that, it's her left'.
    let taken_back =
        i.checked_sub(1).is_some_and(|b| segments[b].says(C::Mean) && out[b].is_empty());
    let corrects = segment.says(C::Mean) || taken_back;
    let before = (i.saturating_sub(SEGMENTS_BACK_MAX)..i)
        .rev()
        .find(|k| (same(*k) || corrects) && !out[*k].is_empty());
    let own = [C::Clear, C::Normal, C::Okay, C::Nothing, C::Gone, C::Colour, C::ClearOfMarks];
    let both_say = segments.get(i + 1).is_some_and(|n| n.says_any(&own)) && segment.says_any(&own);
    let after = Some(i + 1)
        .filter(|_| !both_say)
        .filter(|k| *k < segments.len() && same(*k) && !out[*k].is_empty());
    if let Some(k) = before.filter(|_| corrects) {
        if let Some(last) = out[k].pop() {
            push_new(&mut out[k], said.sites(last.place()));
        }
        return;
    }
    let with_side = |k: usize, out: &[Vec<Site>]| out[k].iter().any(|site| site.side().is_some());
    match (before, after) {
        (_, Some(k)) if !out[k].is_empty() => {
            let place = out[k][0].place();
            if with_side(k, out) {
                let mut both = said.sites(place);
                both.append(&mut out[k]);
                push_new(&mut out[k], both);
            } else {
                out[k] = said.sites(place);
            }
        }
        (Some(k), _) => {
            let Some(place) = out[k].last().map(|site| site.place()) else { return };
            // A new finding on the other side is this segment's own; otherwise the place before
            // had its side said late.
            if with_side(k, out) {
                out[i] = said.sites(place);
            } else {
                out[k].pop();
                push_new(&mut out[k], said.sites(place));
            }
        }
        _ => {}
    }
}

fn push_new(out: &mut Vec<Site>, sites: Vec<Site>) {
    for site in sites {
        if !out.contains(&site) {
            out.push(site);
        }
    }
}
