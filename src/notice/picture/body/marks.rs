//! Where marks were seen, how often, and the worst that is known of each.
//!
//! Never here: drawing.
//! Promises: a mark whose place nobody named is counted too, as of no place; a recheck belongs to
//! the mark that it looks at.

use std::collections::{BTreeMap, BTreeSet};

use super::super::course::Fade;
use crate::care::{Finding, Minutes, Site};
use crate::follow_up::event::LookKind;
use crate::follow_up::state::{Course, Look};
use crate::follow_up::{SittingNumber, State};

/// Marks at one site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Marks {
    /// The worst that is known.
    pub(super) worst: Fade,
    /// In how many sittings; a routine look counts as one.
    pub(super) times: u32,
}

/// All marks of the last sittings.
#[derive(Clone, Debug, Default)]
pub(in super::super) struct Marked {
    /// By site, as the replies named it.
    pub(super) sites: BTreeMap<Site, Marks>,
    /// Marks whose place nobody named.
    pub(super) unplaced: u32,
    /// How many sittings were looked back on.
    pub(super) sittings: u32,
    /// What was counted: several looks of a sitting at one site count once.
    counted: BTreeSet<(Option<Site>, SittingNumber)>,
}

impl Marked {
    /// Of the last sittings that took place, at most so many, and the routine looks since the
    /// first of them.
    pub(in super::super) fn of(state: &State, limit: Minutes, sittings_max: usize) -> Self {
        let mut sat = state.sittings().rev().filter(|s| s.course != Course::Cancelled);
        let mut since = None;
        let mut marked = Self::default();
        for sitting in sat.by_ref().take(sittings_max) {
            since = Some(sitting.start);
            marked.sittings += 1;
        }
        let earlier = sat.next().is_some();
        for look in state.looks() {
            let recent = !earlier || since.is_some_and(|since| look.due >= since);
            if look.kind != LookKind::Recheck && recent {
                marked.add(state, look, limit);
            }
        }
        marked
    }

    fn add(&mut self, state: &State, look: &Look, limit: Minutes) {
        let Some(fade) = Fade::of(look, state, limit).filter(|fade| *fade != Fade::Clear) else {
            return;
        };
        let recheck = look.recheck.map(|id| state.look(id));
        // What a recheck names is known of that mark, where it still saw one.
        let again = recheck.and_then(|look| look.found.as_ref());
        let again = again.filter(|found| found.finding > Finding::Faded);
        let mut sites: Vec<Site> =
            look.found.iter().flat_map(|found| &found.sites).copied().collect();
        sites.extend(look.mark_sites.iter().chain(again.into_iter().flat_map(|f| &f.sites)));
        sites.sort_unstable();
        sites.dedup();
        if sites.is_empty() && self.is_new(None, look) {
            self.unplaced += 1;
        }
        for site in sites {
            // A recheck that names its sites says of which of them the mark has lasted.
            let lasted_elsewhere =
                again.is_some_and(|found| !found.sites.is_empty() && !found.sites.contains(&site));
            let fade = if lasted_elsewhere { Fade::NotKnown(Minutes::ZERO) } else { fade };
            let is_new = self.is_new(Some(site), look);
            let marks = self.sites.entry(site).or_insert(Marks { worst: fade, times: 0 });
            marks.times += u32::from(is_new);
            if fade.rank() > marks.worst.rank() {
                marks.worst = fade;
            }
        }
    }

    /// Whether a mark at a site was not yet counted for the look's sitting.
    fn is_new(&mut self, site: Option<Site>, look: &Look) -> bool {
        look.sitting.is_none_or(|sitting| self.counted.insert((site, sitting)))
    }
}
