//! When a fit is ready, and what to try next where it is not.

use fadewatch::care::fitting::{
    BuildUp, Check, ClearanceFound, ClearanceHow, ComfortFill, FitPractice, Levelled, Obliquity,
    ObliquityKind, Pelvis,
};
use fadewatch::care::{Fitting, RiskLevel, Side};
use fadewatch::review::{
    FittingWords, Next, Readiness, SeatReason, next_in_words, readiness, shortfall_in_words,
    verdict_in_words,
};

use crate::fitting;

const BY_HAND: &[(&str, &str)] = &[
    ("found_by = \"feeler\"", "found_by = \"hand\""),
    ("imprint_left = \"none\"\n", ""),
    ("imprint_right = \"faint\"\n", ""),
];

fn ready(changes: &[(&str, &str)]) -> Readiness {
    let risk = RiskLevel::new("high").unwrap();
    readiness(&fitting(changes), Some(&risk), &FitPractice::common())
}

/// The fit with one clearance under both sides, found by hand.
fn with_clearance(clearance: &str) -> Readiness {
    let left = format!("left = \"{clearance}\"");
    let right = format!("right = \"{clearance}\"");
    let mut changes = BY_HAND.to_vec();
    changes.extend([("left = \"16mm\"", left.as_str()), ("right = \"5/8in\"", right.as_str())]);
    ready(&changes)
}

fn in_words(changes: &[(&str, &str)], language: &str) -> String {
    let (readiness, practice) = (ready(changes), FitPractice::common());
    let words = FittingWords::shipped();
    let words = words.of(language);
    let mut out = format!("{}\n", verdict_in_words(&readiness, words));
    for shortfall in readiness.shortfalls() {
        out.push_str(&format!("- {}\n", shortfall_in_words(shortfall, &practice, words)));
    }
    if let Some(next) = readiness.next() {
        out.push_str(&format!("next: {}\n", next_in_words(next, words)));
    }
    out
}

#[test]
fn a_fit_with_every_check_right_is_ready() {
    assert!(ready(&[]).is_ready());
    assert!(ready(BY_HAND).is_ready());
    assert_eq!(ready(&[]).next(), None);
}

#[test]
fn clearance_from_half_to_three_quarters_of_an_inch_is_ready_to_the_tenth_of_a_millimetre() {
    for right in ["1/2in", "12.7mm", "13mm", "19mm", "3/4in"] {
        assert!(with_clearance(right).is_ready(), "{right}");
    }
    for under in ["12.6mm", "7/16in", "0mm"] {
        let readiness = with_clearance(under);
        assert_eq!(readiness.shortfalls().len(), 2, "{under}");
        assert_eq!(readiness.next(), Some(&Next::AddPiece(Side::BOTH.to_vec())), "{under}");
    }
    for over in ["19.1mm", "13/16in"] {
        let readiness = with_clearance(over);
        assert_eq!(readiness.next(), Some(&Next::TakePieceOut(vec![Side::Left])), "{over}");
    }
}

#[test]
fn at_most_a_faint_imprint_on_the_feeler_passes() {
    assert!(ready(&[("imprint_left = \"none\"", "imprint_left = \"faint\"")]).is_ready());
    let deep = ready(&[("imprint_left = \"none\"", "imprint_left = \"deep\"")]);
    assert_eq!(deep.next(), Some(&Next::AddPiece(vec![Side::Left])));
    let contradiction = ready(&[
        ("imprint_left = \"none\"", "imprint_left = \"deep\""),
        ("left = \"16mm\"", "left = \"3/4in\""),
    ]);
    assert_eq!(contradiction.next(), Some(&Next::MeasureAgain(vec![Side::Left])));
}

#[test]
fn the_low_side_is_raised_while_pieces_remain_and_then_the_seat_cannot_do_it() {
    let under = ("left = \"16mm\"", "left = \"12mm\"");
    for (pieces, next) in [
        ("left = 0", Next::AddPiece(vec![Side::Left])),
        ("left = 1", Next::AddPiece(vec![Side::Left])),
        ("left = 2", Next::SeatForClient(SeatReason::NoPieceLeft)),
    ] {
        assert_eq!(ready(&[under, ("left = 1", pieces)]).next(), Some(&next), "{pieces}");
    }
    // A seat that takes fewer pieces ends earlier; one that takes more ends where practice does.
    let takes = |most: &'static str, pieces: &'static str| {
        ready(&[under, ("seat_takes = 2", most), ("left = 1", pieces)]).next().cloned()
    };
    let cannot = Some(Next::SeatForClient(SeatReason::NoPieceLeft));
    assert_eq!(takes("seat_takes = 1", "left = 1"), cannot);
    assert_eq!(takes("seat_takes = 5", "left = 2"), cannot);
}

#[test]
fn an_obliquity_that_is_not_levelled_is_raised_until_no_piece_is_left() {
    let not_levelled = ("levelled = true", "levelled = false");
    assert_eq!(ready(&[not_levelled]).next(), Some(&Next::AddPiece(vec![Side::Left])));
    let used_up = ready(&[not_levelled, ("left = 1", "left = 2")]);
    assert_eq!(used_up.seat_for_client(), Some(SeatReason::DoesNotLevel));
}

#[test]
fn a_fixed_obliquity_justifies_a_seat_shaped_to_the_client_even_where_it_looks_level() {
    let fixed = ready(&[("obliquity = \"flexible\"", "obliquity = \"fixed\"")]);
    assert_eq!(fixed.seat_for_client(), Some(SeatReason::FixedObliquity));
}

#[test]
fn whatever_comes_earlier_in_working_order_is_tried_before_the_seat_is_given_up() {
    let readiness = ready(&[
        ("obliquity = \"flexible\"", "obliquity = \"fixed\""),
        ("position = \"ok\"", "position = \"not-ok\""),
        ("back_support = \"ok\"", "back_support = \"not-checked\""),
    ]);
    assert_eq!(readiness.next(), Some(&Next::Check(Check::BackSupport)));
    assert_eq!(readiness.seat_for_client(), None);
    assert_eq!(readiness.shortfalls().len(), 3);
}

#[test]
fn a_check_that_nobody_made_is_never_ready() {
    for check in Check::ALL {
        let key = format!("{check} = ");
        let made = if check == Check::FootSupport {
            "foot_support = { is = \"ok\"".to_owned()
        } else {
            format!("{key}\"ok\"")
        };
        let not_made = made.replace("\"ok\"", "\"not-checked\"");
        let readiness = ready(&[(made.as_str(), not_made.as_str())]);
        assert_eq!(readiness.next(), Some(&Next::Check(check)));
    }
    let pelvis = ready(&[(
        "low_side = \"left\"\nobliquity = \"flexible\"\nlevelled = true",
        "low_side = \"not-checked\"",
    )]);
    assert_eq!(pelvis.next(), Some(&Next::CheckPelvis));
}

#[test]
fn more_than_two_pairs_or_two_pieces_on_one_side_calls_for_another_seat() {
    let pieces = |left: &'static str, right: &'static str| {
        ready(&[("seat_takes = 2", "seat_takes = 4"), ("left = 1", left), ("right = 0", right)])
    };
    assert!(pieces("left = 2", "right = 2").is_ready());
    assert!(pieces("left = 2", "right = 0").is_ready());
    for (left, right) in [("left = 3", "right = 3"), ("left = 3", "right = 0")] {
        assert_eq!(pieces(left, right).seat_for_client(), Some(SeatReason::BuildUpOver));
    }
}

#[test]
fn comfort_fill_is_for_lower_risk_and_never_where_the_risk_is_not_known() {
    let filled = fitting(&[("comfort_fill = false", "comfort_fill = true")]);
    let practice = FitPractice::common();
    let at = |risk: Option<&str>| {
        let risk = risk.map(|name| RiskLevel::new(name).unwrap());
        readiness(&filled, risk.as_ref(), &practice).next().cloned()
    };
    assert_eq!(at(Some("low")), None);
    for risk in [Some("moderate"), Some("high"), None] {
        assert_eq!(at(risk), Some(Next::TakeComfortFillOut), "{risk:?}");
    }
}

#[test]
fn comfort_fill_goes_out_before_the_seat_is_given_up() {
    let low = RiskLevel::new("low").unwrap();
    let filled = fitting(&[
        ("comfort_fill = false", "comfort_fill = true"),
        ("left = \"16mm\"", "left = \"12mm\""),
        ("left = 1", "left = 2"),
    ]);
    let readiness = readiness(&filled, Some(&low), &FitPractice::common());
    assert_eq!(readiness.next(), Some(&Next::TakeComfortFillOut));
}

#[test]
fn too_much_room_without_any_build_up_calls_for_another_size() {
    let readiness = ready(&[("left = \"16mm\"", "left = \"22mm\""), ("left = 1", "left = 0")]);
    assert_eq!(readiness.next(), Some(&Next::OtherSize));
}

/// Fits of every kind: pieces, room, obliquity, comfort fill.
fn every_fit() -> Vec<Fitting> {
    let pelvises = [ObliquityKind::Flexible, ObliquityKind::Fixed].into_iter().flat_map(|kind| {
        [Levelled::Yes, Levelled::No]
            .map(|levelled| Pelvis::Oblique(Obliquity { low_side: Side::Right, kind, levelled }))
    });
    let pelvises: Vec<Pelvis> = pelvises.chain([Pelvis::Level, Pelvis::NotChecked]).collect();
    let rooms = ["12.6mm", "1/2in", "3/4in", "19.1mm"].map(|room| room.parse().unwrap());
    let mut fits = Vec::new();
    for pieces in 0..64 {
        let Ok(build_up) = BuildUp::new(pieces % 4, pieces / 4 % 4, pieces / 16) else { continue };
        for (pelvis, left) in pelvises.iter().flat_map(|pelvis| rooms.map(|left| (*pelvis, left))) {
            for (right, comfort_fill) in rooms
                .iter()
                .flat_map(|right| [ComfortFill::Used, ComfortFill::NotUsed].map(|f| (*right, f)))
            {
                let clearance = Some(ClearanceFound { left, right, how: ClearanceHow::Hand });
                fits.push(Fitting { build_up, pelvis, clearance, comfort_fill, ..fitting(&[]) });
            }
        }
    }
    fits
}

#[test]
fn what_to_try_next_can_always_be_done_and_the_seat_is_given_up_only_when_nothing_else_can() {
    let (low, practice) = (RiskLevel::new("low").unwrap(), FitPractice::common());
    let mut given_up = 0;
    for fit in every_fit() {
        let readiness = readiness(&fit, Some(&low), &practice);
        assert_eq!(readiness.is_ready(), readiness.next().is_none());
        match readiness.next() {
            Some(Next::AddPiece(sides)) => {
                let raised = fit.build_up.raised(sides).expect("a piece that the seat takes");
                let most = Side::BOTH.map(|side| raised.pieces(side));
                assert!(most.iter().all(|pieces| *pieces <= 2), "{raised:?}");
            }
            Some(Next::TakePieceOut(sides)) => {
                assert!(sides.iter().all(|side| fit.build_up.pieces(*side) > 0));
            }
            Some(Next::TakeComfortFillOut) => assert_eq!(fit.comfort_fill, ComfortFill::Used),
            Some(Next::SeatForClient(reason)) => {
                given_up += 1;
                let raises_nothing = matches!(reason, SeatReason::FixedObliquity)
                    || matches!(reason, SeatReason::BuildUpOver);
                assert!(raises_nothing || fit.comfort_fill == ComfortFill::NotUsed);
            }
            _ => {}
        }
    }
    assert!(given_up > 0);
}

#[test]
fn what_is_missing_reads_in_working_order_in_each_language() {
    let changes: &[(&str, &str)] = &[
        ("seat_on_chair = \"ok\"", "seat_on_chair = \"not-ok\""),
        ("perineum_room = \"ok\"", "perineum_room = \"not-checked\""),
        ("levelled = true", "levelled = false"),
        ("left = \"16mm\"", "left = \"7/16in\""),
        ("imprint_right = \"faint\"", "imprint_right = \"deep\""),
        ("comfort_fill = false", "comfort_fill = true"),
    ];
    insta::assert_snapshot!(in_words(changes, "en"));
    insta::assert_snapshot!(in_words(changes, "es"));
    insta::assert_snapshot!(in_words(changes, "de"));
    insta::assert_snapshot!(in_words(changes, "fr"));
}
