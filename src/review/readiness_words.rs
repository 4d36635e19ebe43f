//! Readiness in words.
//!
//! Never here: working it out.
//! Promises: every shortfall and every next step has its sentence.

use super::readiness::{Next, Readiness, SeatReason, Shortfall};
use super::words::Words;
use crate::care::Side;
use crate::care::fitting::FitPractice;

/// `Ready to begin.` or not.
pub fn verdict_in_words<'w>(readiness: &Readiness, words: &'w Words) -> &'w str {
    words.say(if readiness.is_ready() { "verdict.ready" } else { "verdict.not-ready" })
}

/// A shortfall as a phrase.
pub fn shortfall_in_words(shortfall: &Shortfall, practice: &FitPractice, words: &Words) -> String {
    let side_of = |side: Side| words.say(&format!("side.{}", side.id()));
    match shortfall {
        Shortfall::NotChecked(check) => {
            words.fill("shortfall.not-checked", &[("check", words.say(&format!("check.{check}")))])
        }
        Shortfall::NotOk(check) => {
            words.fill("shortfall.not-ok", &[("check", words.say(&format!("check.{check}")))])
        }
        Shortfall::PelvisNotChecked => words.say("shortfall.pelvis-not-checked").to_owned(),
        Shortfall::FixedObliquity(side) => {
            words.fill("shortfall.fixed-obliquity", &[("side", side_of(*side))])
        }
        Shortfall::NotLevelled(side) => {
            words.fill("shortfall.not-levelled", &[("side", side_of(*side))])
        }
        Shortfall::ClearanceUnder(side, found) => words.fill(
            "shortfall.clearance-under",
            &[
                ("side", side_of(*side)),
                ("found", &words.length(*found)),
                ("least", &words.length(practice.clearance_least)),
            ],
        ),
        Shortfall::ClearanceOver(side, found) => words.fill(
            "shortfall.clearance-over",
            &[
                ("side", side_of(*side)),
                ("found", &words.length(*found)),
                ("most", &words.length(practice.clearance_most)),
            ],
        ),
        Shortfall::ImprintOver(side, imprint) => words.fill(
            "shortfall.imprint",
            &[
                ("side", side_of(*side)),
                ("imprint", words.say(&format!("imprint.{}", imprint.id()))),
                ("most", words.say(&format!("imprint.{}", practice.imprint_most.id()))),
                ("thickness", &words.length(practice.feeler_thickness)),
            ],
        ),
        Shortfall::BuildUpOver => words.fill(
            "shortfall.build-up",
            &[
                ("pairs", &practice.build_up_pairs_most.to_string()),
                ("one_side", &practice.build_up_one_side_most.to_string()),
            ],
        ),
        Shortfall::ComfortFill(Some(risk)) => {
            words.fill("shortfall.comfort-fill", &[("risk", risk.as_str())])
        }
        Shortfall::ComfortFill(None) => words.say("shortfall.comfort-fill-unknown").to_owned(),
    }
}

/// What to try next as a sentence.
pub fn next_in_words(next: &Next, words: &Words) -> String {
    let sides = |sides: &[Side]| match sides {
        [side] => words.say(&format!("side.{}", side.id())),
        _ => words.say("side.both"),
    };
    match next {
        Next::Check(check) => {
            words.fill("next.check", &[("check", words.say(&format!("check.{check}")))])
        }
        Next::PutRight(check) => words.say(&format!("put_right.{check}")).to_owned(),
        Next::CheckPelvis => words.say("next.check-pelvis").to_owned(),
        Next::AddPiece(on) if on.len() > 1 => words.say("next.add-pair").to_owned(),
        Next::AddPiece(on) => words.fill("next.add-piece", &[("side", sides(on))]),
        Next::TakePieceOut(on) => words.fill("next.take-piece-out", &[("side", sides(on))]),
        Next::MeasureAgain(on) => words.fill("next.measure-again", &[("side", sides(on))]),
        Next::TakeComfortFillOut => words.say("next.comfort-fill").to_owned(),
        Next::OtherSize => words.say("next.other-size").to_owned(),
        Next::SeatForClient(reason) => {
            words.fill("next.seat-for-client", &[("reason", reason_in_words(*reason, words))])
        }
    }
}

fn reason_in_words(reason: SeatReason, words: &Words) -> &str {
    words.say(match reason {
        SeatReason::FixedObliquity => "reason.fixed-obliquity",
        SeatReason::DoesNotLevel => "reason.does-not-level",
        SeatReason::NoPieceLeft => "reason.no-piece-left",
        SeatReason::BuildUpOver => "reason.build-up",
    })
}
