//! What the guide is asked: where, which side, what was seen, how marks have faded, on which fit.
//!
//! Never here: answers.
//! Promises: a fact that the record does not show does not hold.

use std::collections::BTreeSet;

use crate::care::fitting::{
    Bearing, Check, CheckResult, ClearanceHow, ComfortFill, Legs, Levelled, ObliquityKind, Pelvis,
};
use crate::care::{Fitting, Minutes, Side, Site};

/// A question to the guide.
#[derive(Clone, Debug)]
pub struct Question<'a> {
    /// The sites of the finding; empty where none was named.
    pub sites: &'a [Site],
    /// What was seen.
    pub seen: Seen,
    /// The sittings before this one.
    pub before: SitesHad,
    /// The fitting that is tested; none where none is on file.
    pub fitting: Option<&'a Fitting>,
}

/// What was seen, as the guide tells findings apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Seen {
    /// A mark that came and went.
    Faded,
    /// A mark.
    Marked,
    /// A mark that lasted.
    Persisting,
    /// A sign that needs review at once.
    Alarming,
    /// A mark on which nobody has reported.
    Unreported,
}

/// What earlier sittings have shown.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SitesHad {
    /// Sites marked in earlier sittings.
    pub marked: BTreeSet<Site>,
    /// Fade times with the sitting time that each followed, oldest first.
    pub fades: Vec<(Minutes, Minutes)>,
}

/// Whether marks lie on one side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sidedness {
    /// On one side only.
    One,
    /// On both.
    Both,
    /// The place has no sides, or none was said.
    None,
}

/// Something that the history of fading shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HistoryFact {
    /// The site was not marked in an earlier sitting.
    First,
    /// It was.
    Again,
    /// The last fade time was longer than the one before, after sittings of the same length.
    Lengthening,
}

/// Something that the fitting shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FittingFact {
    /// No fitting is on file.
    NoneOnFile,
    /// One side of the pelvis is lower, or nobody looked.
    Oblique,
    /// The pelvis was level.
    Level,
    /// The obliquity is fixed.
    FixedObliquity,
    /// The obliquity is not levelled.
    NotLevelled,
    /// Legs together.
    LegsTogether,
    /// Legs windswept.
    Windswept,
    /// Comfort fill is used.
    ComfortFill,
    /// Clearance was found by hand only, or not at all.
    NoFeeler,
    /// Build-up pieces are in use.
    BuiltUp,
}

impl Question<'_> {
    /// What the seat does with a site.
    pub(super) fn bearing(&self, site: Option<Site>) -> Bearing {
        match (self.fitting, site) {
            (Some(fitting), Some(site)) => fitting.bearing(site),
            _ => Bearing::Unknown,
        }
    }

    /// Whether the marks at the place of a site lie on one side.
    pub(super) fn sidedness(&self, site: Option<Site>) -> Sidedness {
        let Some(site) = site.filter(|site| site.place().is_paired()) else {
            return Sidedness::None;
        };
        let here: Vec<Site> =
            self.sites.iter().copied().filter(|other| other.place() == site.place()).collect();
        let sides: BTreeSet<Side> = here.iter().filter_map(|site| site.side()).collect();
        match sides.len() {
            2 => Sidedness::Both,
            1 if here.iter().all(|site| site.side().is_some()) => Sidedness::One,
            _ => Sidedness::None,
        }
    }

    /// Whether a fact of the history holds for a site.
    pub(super) fn has_history(&self, fact: HistoryFact, site: Option<Site>) -> bool {
        let marked_before = site.is_some_and(|site| {
            site.both_if_unsided().iter().any(|side| self.before.marked.contains(side))
        });
        match fact {
            HistoryFact::First => site.is_some() && !marked_before,
            HistoryFact::Again => marked_before,
            HistoryFact::Lengthening => self.before.is_lengthening(),
        }
    }

    /// Whether a fact of the fitting holds.
    pub(super) fn has_fitting(&self, fact: FittingFact) -> bool {
        let Some(fitting) = self.fitting else { return fact == FittingFact::NoneOnFile };
        let oblique = match fitting.pelvis {
            Pelvis::Oblique(obliquity) => Some(obliquity),
            Pelvis::Level | Pelvis::NotChecked => None,
        };
        match fact {
            FittingFact::NoneOnFile => false,
            FittingFact::Oblique => fitting.pelvis != Pelvis::Level,
            FittingFact::Level => fitting.pelvis == Pelvis::Level,
            FittingFact::FixedObliquity => {
                oblique.is_some_and(|oblique| oblique.kind == ObliquityKind::Fixed)
            }
            FittingFact::NotLevelled => {
                oblique.is_some_and(|oblique| oblique.levelled == Levelled::No)
            }
            FittingFact::LegsTogether => fitting.legs == Legs::Together,
            FittingFact::Windswept => fitting.legs == Legs::Windswept,
            FittingFact::ComfortFill => fitting.comfort_fill == ComfortFill::Used,
            FittingFact::NoFeeler => {
                fitting.clearance.is_none_or(|found| found.how == ClearanceHow::Hand)
            }
            FittingFact::BuiltUp => {
                Side::BOTH.iter().any(|side| fitting.build_up.pieces(*side) > 0)
            }
        }
    }

    /// Whether a check of the fitting was not right, or not made.
    pub(super) fn is_doubtful(&self, check: Check) -> bool {
        self.fitting.is_some_and(|fit| fit.checks.get(check).result != CheckResult::Ok)
    }
}

impl SitesHad {
    /// Fade times are compared after sittings of the same length only: they grow with the time
    /// under load (graded heel loading, Mayrovitz; ischium, Arch Phys Med Rehabil 1995;76:533).
    fn is_lengthening(&self) -> bool {
        let Some((sit, newest)) = self.fades.last() else { return false };
        let mut alike = self.fades.iter().rev().skip(1).filter(|(other, _)| other == sit);
        alike.next().is_some_and(|(_, before)| newest > before)
    }
}

macro_rules! words {
    ($name:ident: $($variant:ident = $word:literal),+ $(,)?) => {
        impl $name {
            /// The words in the guide's file, each with what it says.
            pub const WORDS: &[(&'static str, Self)] = &[$(($word, Self::$variant)),+];
        }
    };
}

words!(Seen: Faded = "faded", Marked = "marked", Persisting = "persisting", Alarming = "alarming",
       Unreported = "unreported");
words!(Sidedness: One = "one", Both = "both", None = "none");
words!(HistoryFact: First = "first", Again = "again", Lengthening = "lengthening");
words!(FittingFact: NoneOnFile = "none-on-file", Oblique = "oblique", Level = "level",
       FixedObliquity = "fixed-obliquity", NotLevelled = "not-levelled",
       LegsTogether = "legs-together", Windswept = "windswept", ComfortFill = "comfort-fill",
       NoFeeler = "no-feeler", BuiltUp = "built-up");
