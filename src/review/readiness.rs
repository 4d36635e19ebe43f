//! Whether sitting may begin on a fit; if not, why, and what to try next.
//!
//! Never here: the values (`FitPractice`), wording.
//! Promises: shortfalls come in working order and the next step answers the first of them; a fit
//! is ready only where every check was made and is right; a seat shaped to the client is proposed
//! only after everything before it in working order is right.

use crate::care::fitting::{
    Check, CheckResult, ComfortFill, FitPractice, Imprint, Levelled, ObliquityKind, Pelvis,
};
use crate::care::{Clearance, Fitting, RiskLevel, Side};

/// How ready a fit is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Readiness {
    shortfalls: Vec<Shortfall>,
    next: Option<Next>,
}

/// Something that a fit lacks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Shortfall {
    /// A check was not made.
    NotChecked(Check),
    /// A check is not as it should be.
    NotOk(Check),
    /// Nobody looked for an obliquity.
    PelvisNotChecked,
    /// An obliquity that cannot be moved.
    FixedObliquity(Side),
    /// An obliquity that is not levelled.
    NotLevelled(Side),
    /// Less room than practice asks for.
    ClearanceUnder(Side, Clearance),
    /// More room than practice asks for.
    ClearanceOver(Side, Clearance),
    /// A deeper imprint than practice lets pass.
    ImprintOver(Side, Imprint),
    /// More build-up than practice allows before another seat is considered.
    BuildUpOver,
    /// Comfort fill at a risk level that it is not meant for, or at a level that is not known.
    ComfortFill(Option<RiskLevel>),
}

/// What to try next. After each change every site is checked again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Next {
    /// Make a check.
    Check(Check),
    /// Put right what a check found.
    PutRight(Check),
    /// See whether one side of the pelvis is lower.
    CheckPelvis,
    /// Add a build-up piece on each of these sides.
    AddPiece(Vec<Side>),
    /// Take a build-up piece out on each of these sides.
    TakePieceOut(Vec<Side>),
    /// Find the clearance on these sides again: what was found contradicts itself.
    MeasureAgain(Vec<Side>),
    /// Take the comfort fill out.
    TakeComfortFillOut,
    /// Another size of this seat: it leaves too much room even without build-up.
    OtherSize,
    /// This seat cannot do it: a seat shaped to the client is justified, with the record as the
    /// justification.
    SeatForClient(SeatReason),
}

/// Why this seat cannot do it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SeatReason {
    /// The obliquity is fixed.
    FixedObliquity,
    /// The obliquity does not level and no piece is left.
    DoesNotLevel,
    /// The clearance is too small and no piece is left.
    NoPieceLeft,
    /// It takes more build-up than practice allows.
    BuildUpOver,
}

impl Readiness {
    /// Whether sitting may begin.
    pub fn is_ready(&self) -> bool {
        self.shortfalls.is_empty()
    }

    /// What the fit lacks, in working order; empty where it is ready.
    pub fn shortfalls(&self) -> &[Shortfall] {
        &self.shortfalls
    }

    /// What to try next; none where the fit is ready.
    pub fn next(&self) -> Option<&Next> {
        self.next.as_ref()
    }

    /// Why a seat shaped to the client is justified, where it is.
    pub fn seat_for_client(&self) -> Option<SeatReason> {
        match self.next {
            Some(Next::SeatForClient(reason)) => Some(reason),
            _ => None,
        }
    }
}

/// How ready a fit is, by a clinic's practice. Without a risk level comfort fill is not ready.
pub fn readiness(fitting: &Fitting, risk: Option<&RiskLevel>, practice: &FitPractice) -> Readiness {
    let fit = Fit { fitting, practice };
    let mut shortfalls = Vec::new();
    for (check, checked) in fitting.checks.iter() {
        match (check, checked.result) {
            (Check::Clearance(_), _) | (_, CheckResult::Ok) => {}
            (check, CheckResult::NotOk) => shortfalls.push(Shortfall::NotOk(check)),
            (check, CheckResult::NotChecked) => shortfalls.push(Shortfall::NotChecked(check)),
        }
    }
    shortfalls.extend(fit.pelvis());
    shortfalls.extend(Side::BOTH.into_iter().filter_map(|side| fit.clearance(side)));
    let build_up = fitting.build_up;
    if !fit.allows(build_up.pieces(Side::Left), build_up.pieces(Side::Right)) {
        shortfalls.push(Shortfall::BuildUpOver);
    }
    let filled = fitting.comfort_fill == ComfortFill::Used;
    if filled && risk.is_none_or(|risk| !practice.comfort_fill_for.contains(risk)) {
        shortfalls.push(Shortfall::ComfortFill(risk.cloned()));
    }
    let next = shortfalls.first().map(|first| fit.next(first, &shortfalls));
    Readiness { shortfalls, next }
}

/// A fit beside the values that it is held to.
struct Fit<'a> {
    fitting: &'a Fitting,
    practice: &'a FitPractice,
}

impl Fit<'_> {
    fn pelvis(&self) -> Option<Shortfall> {
        match self.fitting.pelvis {
            Pelvis::NotChecked => Some(Shortfall::PelvisNotChecked),
            Pelvis::Level => None,
            Pelvis::Oblique(obliquity) => match (obliquity.kind, obliquity.levelled) {
                (ObliquityKind::Fixed, _) => Some(Shortfall::FixedObliquity(obliquity.low_side)),
                (ObliquityKind::Flexible, Levelled::No) => {
                    Some(Shortfall::NotLevelled(obliquity.low_side))
                }
                (ObliquityKind::Flexible, Levelled::Yes) => None,
            },
        }
    }

    /// What the clearance of a side lacks: the measure first, then the fitter's own judgement.
    fn clearance(&self, side: Side) -> Option<Shortfall> {
        let check = Check::Clearance(side);
        let result = self.fitting.checks.get(check).result;
        let Some(found) = self.fitting.clearance.filter(|_| result != CheckResult::NotChecked)
        else {
            return Some(Shortfall::NotChecked(check));
        };
        let under = found.under(side);
        if under < self.practice.clearance_least {
            return Some(Shortfall::ClearanceUnder(side, under));
        }
        if let Some(imprint) = found.imprint(side).filter(|i| *i > self.practice.imprint_most) {
            return Some(Shortfall::ImprintOver(side, imprint));
        }
        if under > self.practice.clearance_most {
            return Some(Shortfall::ClearanceOver(side, under));
        }
        (result == CheckResult::NotOk).then_some(Shortfall::NotOk(check))
    }

    /// Whether practice allows so many pieces: pairs, or pieces that one side has more of.
    fn allows(&self, left: u32, right: u32) -> bool {
        let most = if left == right {
            self.practice.build_up_pairs_most
        } else {
            self.practice.build_up_one_side_most
        };
        left.max(right) <= most
    }

    fn next(&self, first: &Shortfall, all: &[Shortfall]) -> Next {
        match first {
            Shortfall::NotChecked(check) => Next::Check(*check),
            Shortfall::NotOk(check) => Next::PutRight(*check),
            Shortfall::PelvisNotChecked => Next::CheckPelvis,
            Shortfall::FixedObliquity(_) => Next::SeatForClient(SeatReason::FixedObliquity),
            Shortfall::NotLevelled(side) => self.raised(vec![*side], SeatReason::DoesNotLevel),
            Shortfall::ClearanceUnder(..)
            | Shortfall::ClearanceOver(..)
            | Shortfall::ImprintOver(..) => self.next_for_clearance(all),
            Shortfall::BuildUpOver => Next::SeatForClient(SeatReason::BuildUpOver),
            Shortfall::ComfortFill(_) => Next::TakeComfortFillOut,
        }
    }

    /// Too little room comes before too much: it is the one that does harm.
    fn next_for_clearance(&self, all: &[Shortfall]) -> Next {
        let most = self.practice.clearance_most;
        let has_room = |side: Side| self.fitting.clearance.is_some_and(|c| c.under(side) >= most);
        let (mut again, mut raise, mut lower) = (Vec::new(), Vec::new(), Vec::new());
        for shortfall in all {
            match shortfall {
                Shortfall::ImprintOver(side, _) if has_room(*side) => again.push(*side),
                Shortfall::ImprintOver(side, _) | Shortfall::ClearanceUnder(side, _) => {
                    raise.push(*side);
                }
                Shortfall::ClearanceOver(side, _) => lower.push(*side),
                _ => {}
            }
        }
        if !again.is_empty() {
            return Next::MeasureAgain(again);
        }
        if !raise.is_empty() {
            return self.raised(raise, SeatReason::NoPieceLeft);
        }
        lower.retain(|side| self.fitting.build_up.pieces(*side) > 0);
        if lower.is_empty() { Next::OtherSize } else { Next::TakePieceOut(lower) }
    }

    /// One more piece on some sides, while pieces remain; before the seat is given up, comfort
    /// fill goes out, since it gives back some of the room.
    fn raised(&self, sides: Vec<Side>, otherwise: SeatReason) -> Next {
        let raised = self.fitting.build_up.raised(&sides);
        let fits = raised.is_some_and(|pieces| {
            self.allows(pieces.pieces(Side::Left), pieces.pieces(Side::Right))
        });
        if fits {
            Next::AddPiece(sides)
        } else if self.fitting.comfort_fill == ComfortFill::Used {
            Next::TakeComfortFillOut
        } else {
            Next::SeatForClient(otherwise)
        }
    }
}
