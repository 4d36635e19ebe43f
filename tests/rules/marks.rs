//! Marks, rechecks and repeated marks (R10, R11, R12, R13).

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 3"])
}

/// R10. The look planned for 10:40 is withdrawn.
#[test]
fn a_mark_ends_its_sitting_and_is_rechecked_fade_limit_after_the_look() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["40min 1 3 20min"])
        .says("06 10:23", "first", "marked ischium-left @10:21")
        .says("06 10:55", "first", "faded 12min")
        .gives(
            "06 10:00 sitting 1 step 1 40min
             06 10:20 asked first 1 → first
             06 10:23 answered first 1 by first: marked ischium-left
             06 10:51 asked recheck 1 → first
             06 10:55 answered recheck 1 by first: faded 12min
             06 10:55 no-credit 1 cut-short",
        );
}

/// R10: a look stated exactly `tell_clinic_after` ago counts; its recheck is overdue and asked at
/// once. One stated longer ago is doubted: the reply's arrival counts.
#[test]
fn the_look_of_a_mark_may_be_stated_as_far_back_as_tell_clinic_after() {
    let late = one_sitting();
    late.clone()
        .says("06 12:15", "first", "marked @10:15")
        .says("06 12:16", "first", "faded 9min")
        .gives_from(
            "06 12:15",
            "06 12:15 answered first 1 by first: marked
             06 12:15 asked recheck 1 → first
             06 12:16 answered recheck 1 by first: faded 9min
             06 12:16 credit 1 run 1",
        );
    late.says("06 12:15", "first", "marked @10:14")
        .says("06 12:46", "first", "faded 9min")
        .gives_from(
            "06 12:15",
            "06 12:15 answered first 1 by first: marked
         06 12:45 asked recheck 1 → first
         06 12:46 answered recheck 1 by first: faded 9min
         06 12:46 credit 1 run 1",
        );
}

/// R10: from then on what is said to the look is said to its recheck.
#[test]
fn what_is_said_to_a_marked_look_is_said_to_its_recheck() {
    one_sitting()
        .says("06 10:16", "first", "marked")
        .says("06 10:50", "first", "unclear to:look")
        .says("06 10:52", "first", "faded 12min to:look")
        .gives_from(
            "06 10:46",
            "06 10:46 asked recheck 1 → first
             06 10:50 answered recheck 1 by first: unclear
             06 10:50 asked recheck 1 → first again 1
             06 10:52 answered recheck 1 by first: faded 12min
             06 10:52 credit 1 run 1",
        );
}

/// R10: a mark that came and went ends nothing and needs no recheck.
#[test]
fn faded_in_answer_to_a_look_does_not_end_the_sitting() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["30min 1 3 15min"])
        .says("06 10:20", "first", "faded 4min")
        .says("06 10:31", "first", "clear")
        .gives_from(
            "06 10:15",
            "06 10:15 asked first 1 → first
             06 10:20 answered first 1 by first: faded 4min
             06 10:30 asked first 1 → first
             06 10:31 answered first 1 by first: clear
             06 10:31 credit 1 run 1",
        );
}

/// R10: a mark at a routine look ends the sitting in progress.
#[test]
fn a_mark_at_a_routine_look_cuts_the_sitting_in_progress_short() {
    one_sitting()
        .look_at(&["09:55"])
        .says("06 10:05", "first", "marked sacrum to:routine")
        .says("06 10:11", "first", "faded 6min to:routine")
        .gives(
            "06 09:55 asked routine → first
             06 10:00 dropped unsettled
             06 10:05 answered routine by first: marked sacrum
             06 10:11 answered recheck by first: faded 6min",
        );
    one_sitting()
        .look_at(&["10:05"])
        .says("06 10:08", "first", "marked sacrum to:routine")
        .says("06 10:14", "first", "faded 6min to:routine")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:05 asked routine → first
             06 10:08 answered routine by first: marked sacrum
             06 10:08 no-credit 1 cut-short
             06 10:14 answered recheck by first: faded 6min",
        );
}

/// R10: at 10:25 the sitting of 15 minutes is over; its end look is asked of skin that sat.
#[test]
fn a_mark_at_a_routine_look_leaves_a_sitting_that_is_over_its_end_look() {
    one_sitting()
        .look_at(&["10:20"])
        .says("06 10:25", "first", "marked sacrum to:routine")
        .says("06 10:27", "first", "clear to:look")
        .says("06 10:31", "first", "faded 6min to:routine")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:15 asked first 1 → first
             06 10:20 asked routine → first
             06 10:25 answered routine by first: marked sacrum
             06 10:27 answered first 1 by first: clear
             06 10:27 credit 1 run 1
             06 10:31 answered recheck by first: faded 6min",
        );
}

/// R11, R21: whatever it answers; here the announcement.
#[test]
fn an_alarming_sign_stops_at_once_whatever_it_answers() {
    one_sitting()
        .says("06 10:05", "first", "alarming sacrum")
        .says("06 10:06", "clinic", "seen")
        .gives(
            "06 10:00 sitting 1 step 1 15min
         06 10:05 answered first 1 by first: alarming sacrum
         06 10:05 stopped alarming sacrum
         06 10:05 told-to-stop first
         06 10:05 told-to-stop second
         06 10:05 alerted clinic
         06 10:06 acknowledged clinic",
        );
}

/// R11: lasting marks, in each of their forms.
#[test]
fn a_mark_that_lasts_longer_than_fade_limit_stops() {
    let at_the_look = |words: &str, expected: &str| {
        one_sitting().says("06 10:20", "first", words).gives_of(&["stopped"], expected);
    };
    at_the_look("persisting sacrum", "06 10:20 stopped persisting sacrum");
    at_the_look("marked sacrum 31min", "06 10:20 stopped persisting sacrum");
    at_the_look("faded sacrum 31min", "06 10:20 stopped persisting sacrum");
    at_the_look("marked sacrum 30min", "06 11:50 stopped recheck-unreported sacrum");
    let at_the_recheck = |words: &str, expected: &str| {
        one_sitting()
            .says("06 10:16", "first", "marked sacrum")
            .says("06 10:50", "first", words)
            .gives_of(&["stopped"], expected);
    };
    at_the_recheck("marked", "06 10:50 stopped persisting sacrum");
    at_the_recheck("persisting", "06 10:50 stopped persisting sacrum");
    at_the_recheck("faded 31min", "06 10:50 stopped persisting sacrum");
    at_the_recheck("clear 31min", "06 10:50 stopped persisting sacrum");
    at_the_recheck("faded 30min", "");
    at_the_recheck("clear", "");
}

/// R12.
#[test]
fn a_recheck_is_asked_again_and_again_and_unanswered_it_is_a_stop() {
    one_sitting()
        .set("recheck_within", "\"2h\"")
        .says("06 10:16", "first", "marked sacrum")
        .says("06 12:50", "clinic", "seen")
        .gives_from(
            "06 10:46",
            "06 10:46 asked recheck 1 → first
             06 11:06 asked recheck 1 → first again 1
             06 11:26 asked recheck 1 → second
             06 11:46 asked recheck 1 → second again 1
             06 12:06 asked recheck 1 → second again 2
             06 12:26 asked recheck 1 → second again 3
             06 12:46 stopped recheck-unreported sacrum
             06 12:46 told-to-stop first
             06 12:46 told-to-stop second
             06 12:46 alerted clinic
             06 12:50 acknowledged clinic",
        );
}

/// R12: at exactly `recheck_within` an answer is still in time.
#[test]
fn a_recheck_answered_at_the_last_instant_is_answered() {
    let answered = |at: &str, expected: &str| {
        one_sitting()
            .says("06 10:16", "first", "marked sacrum")
            .says(at, "first", "faded 12min")
            .gives_of(&["stopped", "credit"], expected);
    };
    answered("06 11:46", "06 11:46 credit 1 run 1");
    answered("06 11:47", "06 11:46 stopped recheck-unreported sacrum");
}

/// R12: those before the reporter in calling order are not asked.
#[test]
fn a_recheck_goes_to_the_one_who_reported_and_moves_on_from_there() {
    one_sitting()
        .contacts(&["first", "second", "third"])
        .says("06 11:00", "second", "marked sacrum")
        .says("06 12:20", "third", "faded 12min")
        .gives_from(
            "06 10:55",
            "06 10:55 asked first 1 → second
             06 11:00 answered first 1 by second: marked sacrum
             06 11:30 asked recheck 1 → second
             06 11:50 asked recheck 1 → second again 1
             06 12:10 asked recheck 1 → third
             06 12:20 answered recheck 1 by third: faded 12min
             06 12:20 credit 1 run 1",
        );
}

/// R13: `ischium` is left and right; the sitting in between is clear.
#[test]
fn a_site_named_in_enough_of_the_last_sittings_is_told_once_a_sitting() {
    Story::new()
        .days(2)
        .repeat_marks(2, 3)
        .steps(&["15min 2 9"])
        .says("06 10:16", "first", "faded 5min ischium-left")
        .says("06 15:16", "first", "clear")
        .says("07 10:16", "first", "faded 5min ischium")
        .says("07 10:20", "first", "faded 6min ischium")
        .says("07 15:16", "first", "faded 5min heel-left")
        .gives_from(
            "06 15:16",
            "06 15:16 answered first 2 by first: clear
             06 15:16 credit 2 run 2
             07 10:00 sitting 3 step 1 15min
             07 10:15 asked first 3 → first
             07 10:16 answered first 3 by first: faded ischium 5min
             07 10:16 clinic-told repeat-marks
             07 10:16 credit 3 run 3
             07 10:20 answered first 3 by first: faded ischium 6min
             07 10:20 credit 3 run 3
             07 15:00 sitting 4 step 1 15min
             07 15:15 asked first 4 → first
             07 15:16 answered first 4 by first: faded heel-left 5min
             07 15:16 credit 4 run 4",
        );
}

/// R13: cancelled sittings are not among the last; a window of two looks past them.
#[test]
fn cancelled_sittings_are_not_counted_among_the_last() {
    Story::new()
        .days(2)
        .repeat_marks(2, 2)
        .steps(&["15min 2 9"])
        .says("06 10:16", "first", "faded 5min sacrum")
        .says("06 15:02", "first", "no-sitting")
        .says("07 10:16", "first", "faded 5min sacrum")
        .says("07 15:02", "first", "no-sitting")
        .gives_of(&["clinic-told"], "07 10:16 clinic-told repeat-marks");
}

/// R13, fine print: a mark that leads to a stop is remembered, not told.
#[test]
fn sites_count_over_the_last_sittings_begun_stopped_ones_included() {
    Story::new()
        .repeat_marks(2, 3)
        .says("06 10:16", "first", "persisting sacrum")
        .says("06 11:00", "clinic", "resume step=1")
        .says("06 15:16", "first", "faded 5min sacrum")
        .gives_from(
            "06 11:00",
            "06 11:00 acknowledged clinic
             06 11:00 resumed clinic step 1
             06 15:00 sitting 2 step 1 15min
             06 15:15 asked first 2 → first
             06 15:16 answered first 2 by first: faded sacrum 5min
             06 15:16 clinic-told repeat-marks
             06 15:16 credit 2 run 1",
        );
}
