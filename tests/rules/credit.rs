//! What a sitting earns (R5, R6).

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 3"])
}

/// R5.
#[test]
fn a_sitting_with_all_looks_clear_in_time_earns_credit() {
    one_sitting().says("06 10:20", "first", "clear").gives(
        "06 10:00 sitting 1 step 1 15min
         06 10:15 asked first 1 → first
         06 10:20 answered first 1 by first: clear
         06 10:20 credit 1 run 1",
    );
}

/// R5, R6, R11: 15 minutes is credit still, 16 is a slow fade, 30 too, 31 is a stop.
#[test]
fn slow_fade_and_fade_limit_are_inclusive() {
    let outcome = |faded: &str, expected: &str| {
        one_sitting()
            .says("06 10:20", "first", faded)
            .gives_of(&["credit", "no-credit", "stopped"], expected);
    };
    outcome("faded 15min", "06 10:20 credit 1 run 1");
    outcome("faded 16min", "06 10:20 no-credit 1 slow-fade");
    outcome("faded 30min", "06 10:20 no-credit 1 slow-fade");
    outcome("faded 31min", "06 10:20 stopped persisting");
}

/// R5: at 10:15 the `sit` is over, but the mark, which comes first within the instant, withdraws
/// the look that was to be asked then.
#[test]
fn a_mark_before_the_sitting_is_over_earns_no_credit_and_one_at_its_end_look_may() {
    let mark = |marked_at: &str, faded_at: &str, expected: &str| {
        one_sitting()
            .says(marked_at, "first", "marked")
            .says(faded_at, "first", "faded 5min")
            .gives_of(&["credit", "no-credit"], expected);
    };
    mark("06 10:14", "06 10:19", "06 10:19 no-credit 1 cut-short");
    mark("06 10:15", "06 10:19", "06 10:19 no-credit 1 cut-short");
    mark("06 10:16", "06 10:19", "06 10:19 credit 1 run 1");
}

/// R5: the mark seen at the end withdrew the look at 10:15, which nobody had answered.
#[test]
fn a_sitting_with_a_look_that_a_mark_withdrew_is_cut_short() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["30min 1 3 15min"])
        .says("06 10:31", "first", "marked to:look")
        .says("06 10:36", "first", "faded 5min to:look")
        .gives_from(
            "06 10:30",
            "06 10:30 asked first 1 → first
             06 10:31 answered first 1 by first: marked
             06 10:36 answered recheck 1 by first: faded 5min
             06 10:36 no-credit 1 cut-short",
        );
}

/// R6: without minutes, a `faded` before the recheck is asked counts from the look to the reply.
#[test]
fn the_fade_time_runs_from_the_look_to_the_reply_rounded_up() {
    let faded = |at: &str, expected: &str| {
        one_sitting()
            .says("06 10:16", "first", "marked")
            .says(at, "first", "faded")
            .gives_of(&["credit", "no-credit"], expected);
    };
    faded("06 10:31", "06 10:31 credit 1 run 1");
    faded("06 10:31:01", "06 10:31:01 no-credit 1 slow-fade");
    faded("06 10:45", "06 10:45 no-credit 1 slow-fade");
}

/// R6: the time of the look may be stated; the recheck is due half an hour after it.
#[test]
fn the_fade_time_counts_from_the_look_that_the_caregiver_states() {
    one_sitting()
        .says("06 10:30", "first", "marked @10:15")
        .says("06 10:31", "first", "faded")
        .gives_of(&["credit", "no-credit"], "06 10:31 no-credit 1 slow-fade");
}

/// R6: once the recheck was asked, only minutes that are stated count; else the limit does.
#[test]
fn gone_at_a_recheck_without_minutes_counts_as_the_fade_limit() {
    for words in ["clear", "faded"] {
        one_sitting()
            .says("06 10:16", "first", "marked")
            .says("06 10:47", "first", words)
            .gives_of(&["credit", "no-credit"], "06 10:47 no-credit 1 slow-fade");
    }
    for words in ["clear 15min", "faded 15min"] {
        one_sitting()
            .says("06 10:16", "first", "marked")
            .says("06 10:47", "first", words)
            .gives_of(&["credit", "no-credit"], "06 10:47 credit 1 run 1");
    }
}

/// R6: nobody knows when such a mark was first seen.
#[test]
fn faded_without_minutes_said_to_a_look_counts_as_the_fade_limit() {
    one_sitting()
        .says("06 10:16", "first", "faded")
        .gives_of(&["credit", "no-credit", "stopped"], "06 10:16 no-credit 1 slow-fade");
}

/// R6.
#[test]
fn a_slow_fade_at_a_routine_look_breaks_the_run_and_prints_nothing() {
    let evening = |words: &str, expected: &str| {
        one_sitting()
            .days(2)
            .look_at(&["18:00"])
            .says("06 10:20", "first", "clear")
            .says("06 18:02", "first", words)
            .says("07 10:20", "first", "clear")
            .says("07 18:02", "first", "clear")
            .gives_of(&["credit", "no-credit"], expected);
    };
    evening(
        "faded 16min",
        "06 10:20 credit 1 run 1
         07 10:20 credit 2 run 1",
    );
    evening(
        "faded 15min",
        "06 10:20 credit 1 run 1
         07 10:20 credit 2 run 2",
    );
}
