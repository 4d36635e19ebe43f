//! How sittings begin (R2, R25 in part).

use crate::story::Story;

/// R2.
#[test]
fn a_sitting_is_announced_when_it_begins_and_a_start_that_is_stated_moves_it() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:05", "first", "started @10:03")
        .says("06 10:20", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:05 started 1 at 10:03
             06 10:18 asked first 1 → first
             06 10:20 answered first 1 by first: clear
             06 10:20 credit 1 run 1",
        );
}

/// R2: a start that lies longer ago than `tell_clinic_after`, or none at all, is the arrival.
#[test]
fn a_start_that_is_not_stated_is_the_arrival_of_the_reply() {
    let story = Story::new().sittings_at("10:00").steps(&["15min 1 3"]);
    story
        .clone()
        .says("06 10:05", "first", "started")
        .gives_of(&["started"], "06 10:05 started 1 at 10:05");
    story
        .clone()
        .says("06 10:05", "first", "started @08:05")
        .gives_of(&["started"], "06 10:05 started 1 at 08:05");
    story
        .says("06 10:05", "first", "started @08:04")
        .gives_of(&["started"], "06 10:05 started 1 at 10:05");
}

/// R2, and its fine print: the look asked anew is a new look, `again` 0.
#[test]
fn a_first_look_already_asked_is_asked_anew_when_its_new_time_is_ahead() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:17", "first", "started @10:10")
        .says("06 10:26", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:15 asked first 1 → first
             06 10:17 answered first 1 by first: started
             06 10:17 started 1 at 10:10
             06 10:25 asked first 1 → first
             06 10:26 answered first 1 by first: clear
             06 10:26 credit 1 run 1",
        );
}

/// R2: the stated start leaves the look's time in the past, so that the look stays as asked.
#[test]
fn a_first_look_already_asked_stays_when_its_new_time_is_past() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:17", "first", "started @09:58")
        .says("06 10:26", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:15 asked first 1 → first
             06 10:17 answered first 1 by first: started
             06 10:17 started 1 at 09:58
             06 10:26 answered first 1 by first: clear
             06 10:26 credit 1 run 1",
        );
}

/// R2: from any contact, whatever it answers; less than two hours before the planned time.
#[test]
fn started_less_than_tell_clinic_after_before_the_next_sitting_begins_it_early() {
    let story = Story::new().says("06 10:20", "first", "clear");
    story.clone().says("06 13:00", "second", "started").gives_from(
        "06 13:00",
        "06 13:00 set-aside second not-asked
         06 13:00 clinic-told unclear
         06 15:00 sitting 2 step 1 15min
         06 15:15 asked first 2 → first
         06 15:35 asked first 2 → first again 1
         06 15:55 asked first 2 → second
         06 16:15 asked first 2 → second again 1
         06 17:15 missed first 2
         06 17:15 clinic-told missed
         06 17:15 no-credit 2 missed",
    );
    story
        .says("06 13:01", "second", "started @12:59")
        .says("06 13:15", "first", "clear")
        .gives_from(
            "06 13:00",
            "06 13:01 sitting 2 step 1 15min
         06 13:01 started 2 at 12:59
         06 13:14 asked first 2 → first
         06 13:15 answered first 2 by first: clear
         06 13:15 credit 2 run 2",
        );
}

/// R2, fine print.
#[test]
fn started_at_exactly_the_planned_time_begins_that_sitting() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:00", "first", "started")
        .says("06 10:16", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:00 started 1 at 10:00
             06 10:15 asked first 1 → first
             06 10:16 answered first 1 by first: clear
             06 10:16 credit 1 run 1",
        );
}

/// R2, R4: early starts do not wait for the rest after a mark, but for what is unsettled.
#[test]
fn a_sitting_begins_early_even_while_resting_but_not_while_anything_is_unsettled() {
    let story = Story::new().sittings_at("10:00 12:00");
    story
        .clone()
        .says("06 10:16", "first", "faded 5min")
        .says("06 10:30", "first", "started")
        .gives_of(
            &["sitting", "dropped"],
            "06 10:00 sitting 1 step 1 15min
             06 10:30 sitting 2 step 1 15min",
        );
    story.says("06 10:30", "first", "started @10:01").gives_of(
        &["sitting", "dropped", "started"],
        "06 10:00 sitting 1 step 1 15min
         06 10:30 started 1 at 10:01
         06 12:00 dropped unsettled",
    );
}

/// R2: `faded` or worse counts as an unasked first look.
#[test]
fn a_mark_said_to_an_announcement_is_an_unasked_first_look() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:05", "first", "marked sacrum")
        .says("06 10:40", "first", "faded 10min")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:05 answered first 1 by first: marked sacrum
             06 10:35 asked recheck 1 → first
             06 10:40 answered recheck 1 by first: faded 10min
             06 10:40 no-credit 1 cut-short",
        );
}

/// R2.
#[test]
fn calm_words_to_an_announcement_are_set_aside() {
    for words in ["clear", "not-looked", "unclear"] {
        Story::new()
            .sittings_at("10:00")
            .steps(&["15min 1 3"])
            .says("06 10:05", "first", words)
            .says("06 10:16", "first", "clear")
            .gives(
                "06 10:00 sitting 1 step 1 15min
                 06 10:05 set-aside first does-not-fit
                 06 10:15 asked first 1 → first
                 06 10:16 answered first 1 by first: clear
                 06 10:16 credit 1 run 1",
            );
    }
}

/// R2, R17.
#[test]
fn a_cancelled_sitting_is_taken_up_again_on_the_same_local_day() {
    Story::new()
        .says("06 10:02", "first", "no-sitting")
        .says("06 10:30", "first", "started")
        .says("06 10:46", "first", "clear")
        .says("06 15:16", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:02 no-credit 1 no-sitting
             06 10:30 started 1 at 10:30
             06 10:45 asked first 1 → first
             06 10:46 answered first 1 by first: clear
             06 10:46 credit 1 run 1
             06 15:00 sitting 2 step 1 15min
             06 15:15 asked first 2 → first
             06 15:16 answered first 2 by first: clear
             06 15:16 credit 2 run 2",
        );
    // On the next day it is somebody who sits, and nobody was asked to look.
    Story::new()
        .days(2)
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:02", "first", "no-sitting")
        .says("07 07:30", "first", "started")
        .says("07 10:16", "first", "clear")
        .gives_from(
            "07 00:00",
            "07 07:30 clinic-told unclear
             07 10:00 sitting 2 step 1 15min
             07 10:15 asked first 2 → first
             07 10:16 answered first 2 by first: clear
             07 10:16 credit 2 run 1",
        );
}

/// R2, R10: a mark reported although no sitting took place ends that sitting all the same.
#[test]
fn a_cancelled_sitting_in_which_a_mark_was_reported_is_not_taken_up_again() {
    let story = || {
        Story::new()
            .sittings_at("10:00")
            .steps(&["15min 1 3"])
            .says("06 10:05", "first", "no-sitting")
            .says("06 10:06", "first", "marked")
    };
    // While the recheck waits, and once the mark is gone.
    for (started, gone, rest) in [
        (
            "06 10:07",
            "06 10:16",
            "06 10:07 clinic-told unclear
             06 10:16 answered recheck 1 by first: faded 5min
             06 10:16 no-credit 1 no-sitting",
        ),
        (
            "06 10:20",
            "06 10:16",
            "06 10:16 answered recheck 1 by first: faded 5min
             06 10:16 no-credit 1 no-sitting
             06 10:20 clinic-told unclear",
        ),
    ] {
        story()
            .says(started, "first", "started to:start")
            .says(gone, "first", "faded 5min to:look")
            .gives(&format!(
                "06 10:00 sitting 1 step 1 15min
                 06 10:05 no-credit 1 no-sitting
                 06 10:06 answered first 1 by first: marked
                 {rest}"
            ));
    }
}

/// R2: somebody sits again although a mark ended the sitting.
#[test]
fn started_to_a_sitting_that_a_mark_ended_is_told() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:05", "first", "marked")
        .says("06 10:10", "first", "started to:start")
        .says("06 10:12", "first", "faded 4min to:look")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:05 answered first 1 by first: marked
             06 10:10 clinic-told unclear
             06 10:12 answered recheck 1 by first: faded 4min
             06 10:12 no-credit 1 cut-short",
        );
}
