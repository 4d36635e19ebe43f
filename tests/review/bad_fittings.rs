//! One fitting for each kind of mistake, and the whole message.

use crate::{read, said};

/// Changes the right fitting in one place and compares everything that is said.
macro_rules! told {
    ($part:literal => $to:literal) => {
        insta::assert_snapshot!(said(read(&[($part, $to)])))
    };
}

#[test]
fn a_right_fitting_is_taken_without_a_word() {
    let checked = read(&[]).unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    let shown = format!("{:?}", checked.value);
    assert!(!shown.contains("Example") && !shown.contains("relief") && !shown.contains("raised"));
}

#[test]
fn a_clearance_without_a_unit_is_refused() {
    told!("left = \"16mm\"" => "left = \"16\"");
}

#[test]
fn a_fraction_that_no_tape_measure_shows_is_refused() {
    told!("right = \"5/8in\"" => "right = \"5/7in\"");
}

#[test]
fn a_check_that_is_left_out_is_refused() {
    told!("position = \"ok\"\n" => "");
}

#[test]
fn a_check_that_is_neither_word_nor_table_is_refused() {
    told!("position = \"ok\"" => "position = true");
}

#[test]
fn a_slip_in_a_check_is_answered_with_what_was_meant() {
    told!("position = \"ok\"" => "position = \"notok\"");
}

#[test]
fn a_feeler_without_an_imprint_is_refused() {
    told!("imprint_left = \"none\"\n" => "");
}

#[test]
fn an_imprint_of_a_hand_is_refused() {
    told!("found_by = \"feeler\"" => "found_by = \"hand\"");
}

#[test]
fn a_clearance_that_is_judged_but_not_measured_is_refused() {
    told!(
        "[fitting.clearance]\nfound_by = \"feeler\"\nleft = \"16mm\"\nright = \"5/8in\"\n\
         imprint_left = \"none\"\nimprint_right = \"faint\"\n" => ""
    );
}

#[test]
fn more_pieces_than_the_seat_takes_are_refused() {
    told!("left = 1" => "left = 3");
}

#[test]
fn a_low_side_without_a_word_of_it_is_refused() {
    told!("obliquity = \"flexible\"\nlevelled = true\n" => "");
}

#[test]
fn an_obliquity_without_a_low_side_is_refused() {
    told!("low_side = \"left\"" => "low_side = \"none\"");
}

#[test]
fn a_site_that_is_off_loaded_and_loaded_is_refused() {
    told!("loads = [\"thigh\", \"trochanter\"]" => "loads = [\"thigh\", \"ischium-left\"]");
}

#[test]
fn an_unknown_site_and_an_empty_list_are_refused() {
    told!("off_loads = [\"ischium\", \"sacrum\", \"coccyx\"]" => "off_loads = [\"ishium\"]");
    told!("off_loads = [\"ischium\", \"sacrum\", \"coccyx\"]" => "off_loads = []");
}

#[test]
fn a_fitting_in_the_future_is_refused() {
    told!("date = 2026-03-05" => "date = 2026-03-07");
}
