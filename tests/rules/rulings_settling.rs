//! Choices that the text of the rules left open: what late answers and corrections do to credit,
//! runs and suspensions. The rulings themselves stand in `src/follow_up/rulings.rs`.

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 9"])
}

/// The second contact answers the first sitting, so that what they say later is said to it.
fn first_sitting_answered_by_second() -> Story {
    Story::new()
        .days(2)
        .steps(&["15min 2 9"])
        .says("06 10:56", "second", "clear")
        .says("07 10:16", "first", "clear")
        .says("07 15:02", "first", "no-sitting")
}

/// R18, fine print: the second sitting broke the run that the first had earned credit in.
#[test]
fn a_credit_of_a_run_since_broken_is_neither_subtracted_nor_added_again() {
    first_sitting_answered_by_second()
        .says("06 15:16", "first", "faded 20min")
        .says("06 15:30", "second", "faded 5min")
        .gives_of(
            &["credit", "no-credit"],
            "06 10:56 credit 1 run 1
             06 15:16 no-credit 2 slow-fade
             06 15:30 credit 1 run 0
             07 10:16 credit 3 run 1
             07 15:02 no-credit 4 no-sitting",
        );
}

/// R7, R18: the second sitting broke the run; no good sitting has come since, so that an advance
/// would rest on one from before the break.
#[test]
fn a_sitting_before_a_broken_run_counts_in_no_run_after_it_however_often_it_is_settled() {
    first_sitting_answered_by_second()
        .says("06 15:16", "first", "faded 20min")
        .says("06 15:30", "second", "marked")
        .says("06 16:05", "second", "clear")
        .says("06 16:10", "second", "faded 5min")
        .gives_of(
            &["credit", "no-credit"],
            "06 10:56 credit 1 run 1
             06 15:16 no-credit 2 slow-fade
             06 16:05 no-credit 1 slow-fade
             06 16:10 credit 1 run 0
             07 10:16 credit 3 run 1
             07 15:02 no-credit 4 no-sitting",
        );
}

/// R6, R18: a slow fade is a slow fade, though it becomes known later.
#[test]
fn a_sitting_settled_anew_without_credit_breaks_the_present_run() {
    first_sitting_answered_by_second()
        .says("06 15:16", "first", "clear")
        .says("06 15:30", "second", "faded 20min")
        .gives_of(
            &["credit", "no-credit"],
            "06 10:56 credit 1 run 1
             06 15:16 credit 2 run 2
             06 15:30 no-credit 1 slow-fade
             07 10:16 credit 3 run 1
             07 15:02 no-credit 4 no-sitting",
        );
}

/// A client who is suspended by one missed sitting.
fn suspended() -> Story {
    one_sitting()
        .look_at(&["08:00"])
        .set("missed_to_suspend", "1")
        .says("06 08:05", "first", "clear")
}

/// R16: any later finding at any look.
#[test]
fn the_same_finding_again_lifts_a_suspension() {
    suspended().says("06 12:30", "first", "clear to:routine").gives_from(
        "06 12:30",
        "06 12:30 answered routine by first: clear
         06 12:30 unsuspended",
    );
}

/// R15, R16: in the order of the printed lines.
#[test]
fn a_late_answer_lifts_the_suspension_before_it_is_told() {
    suspended().says("06 12:30", "first", "clear").gives_from(
        "06 12:30",
        "06 12:30 answered first 1 by first: clear
         06 12:30 unsuspended
         06 12:30 clinic-told late-report",
    );
}

/// R16, fine print: at 12:20 the last look of the sitting is settled and suspends; the finding
/// that settled it does not lift that.
#[test]
fn a_finding_that_settles_the_sitting_which_suspends_does_not_lift_that_suspension() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["30min 1 9 15min"])
        .set("missed_to_suspend", "1")
        .says("06 12:20", "first", "clear")
        .gives_from(
            "06 12:15",
            "06 12:15 missed first 1
             06 12:15 clinic-told missed
             06 12:20 answered first 1 by first: clear
             06 12:20 no-credit 1 missed
             06 12:20 suspended
             06 12:20 clinic-told suspended",
        );
}

/// R21: neither by answers that come after the resume.
#[test]
fn a_stopped_sitting_is_never_settled() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["30min 1 9 15min"])
        .says("06 10:20", "clinic", "keep-stopped")
        .says("06 10:25", "clinic", "resume step=1")
        .says("06 10:32", "first", "clear")
        .gives_from(
            "06 10:15",
            "06 10:15 asked first 1 → first
             06 10:20 stopped clinician
             06 10:20 told-to-stop first
             06 10:20 told-to-stop second
             06 10:25 resumed clinic step 1
             06 10:32 answered first 1 by first: clear
             06 10:32 clinic-told late-report",
        );
}

/// R18, fine print: its mark is looked at again all the same.
#[test]
fn an_answer_to_a_look_answered_before_the_last_resume_settles_nothing_anew() {
    one_sitting()
        .says("06 10:16", "first", "clear")
        .says("06 10:20", "clinic", "keep-stopped")
        .says("06 10:30", "clinic", "resume step=1")
        .says("06 10:40", "first", "marked sacrum")
        .says("06 11:12", "first", "faded 5min")
        .gives_from(
            "06 10:30",
            "06 10:30 resumed clinic step 1
             06 10:40 answered first 1 by first: marked sacrum
             06 10:40 clinic-told late-report
             06 11:10 asked recheck 1 → first
             06 11:12 answered recheck 1 by first: faded 5min",
        );
}

/// R2, R10, R18: the mark ended the sitting, though its credit stands.
#[test]
fn a_mark_said_after_a_resume_ends_a_sitting_that_was_settled_before_it() {
    one_sitting()
        .says("06 10:16", "first", "clear")
        .says("06 10:20", "clinic", "keep-stopped")
        .says("06 10:30", "clinic", "resume step=1")
        .says("06 10:40", "first", "marked sacrum")
        .says("06 10:45", "first", "started to:start")
        .says("06 11:12", "first", "faded 5min")
        .gives_from(
            "06 10:40",
            "06 10:40 answered first 1 by first: marked sacrum
             06 10:40 clinic-told late-report
             06 10:45 clinic-told unclear
             06 11:10 asked recheck 1 → first
             06 11:12 answered recheck 1 by first: faded 5min",
        );
}

/// R13: also at its recheck, where the site is named for the first time.
#[test]
fn a_site_named_at_a_recheck_counts_as_reported() {
    Story::new()
        .repeat_marks(1, 5)
        .sittings_at("10:00")
        .steps(&["15min 1 9"])
        .says("06 10:16", "first", "marked")
        .says("06 10:20", "first", "faded 4min sacrum")
        .gives_from(
            "06 10:16",
            "06 10:16 answered first 1 by first: marked
             06 10:20 answered recheck 1 by first: faded sacrum 4min
             06 10:20 clinic-told repeat-marks
             06 10:20 credit 1 run 1",
        );
}
